#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Holds docs/libraries.md against what is inside the executable jars, so that no library is forgotten there.

Fails if a library, its version or the jar it is in differs from the list, if a vendored file has other bytes, if
what Maven fetched has another digest than .mvn/checksums has (Maven 3.8 looks at none), or if a row was looked at more
than 180 days ago. Says, without failing, when Debian has a newer Java than the one that the bundle
would take. Needs the built jars. Exit status 0 if all holds, else 1.
"""
import argparse
import datetime
import hashlib
import os
import pathlib
import re
import shutil
import sys
import zipfile

from trial import call, check, status

TOP = pathlib.Path(__file__).resolve().parent.parent
JARS = {name: TOP / name / f"target/loadwitness-{name}.jar" for name in ("agent", "reporter")}
DIGESTS = TOP / ".mvn/checksums/checksums.sha512"
DAYS_MOST = 180
PACKED = re.compile(r"\(([A-Za-z0-9_.-]+:[A-Za-z0-9_.-]+):([A-Za-z0-9_.-]+) - ")


def rows(text, columns):
    """The cells of the table of so many columns, without its head."""
    cells = [[c.strip() for c in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("| ")]
    return [row for row in cells if len(row) == columns and not row[0].startswith(("library", "file", "---"))]


def inside(jars):
    """Each library as the build packed it: name and version, and the programs that it is in."""
    found = {}
    for program, jar in jars.items():
        with zipfile.ZipFile(jar) as packed:
            listed = PACKED.findall(packed.read("META-INF/THIRD-PARTY.txt").decode("utf-8"))
        check(f"{jar.name} lists its libraries", listed)
        for name, version in listed:
            found.setdefault((name, version), []).append(program)
    return found


def recent(what, day, today):
    age = (today - datetime.date.fromisoformat(day)).days
    check(f"{what} was looked at in the last {DAYS_MOST} days", 0 <= age <= DAYS_MOST,
          f"on {day}, {age} days ago: look for advisories, and write the new day into docs/libraries.md")


def libraries(text, today):
    listed = {(row[0], row[1]): row for row in rows(text, 5) if ":" in row[0]}
    packed = inside(JARS)
    for key, programs in packed.items():
        row = listed.get(key)
        check(f"{' '.join(key)} stands in docs/libraries.md", row, "look for its advisories, and add a row")
        if row:
            check(f"{key[0]} is in {', '.join(programs)}", row[2] == ", ".join(programs), f"listed: {row[2]}")
            recent(key[0], row[3], today)
    for key in listed.keys() - packed.keys():
        check(f"{' '.join(key)} is in a jar", False, "take its row out of docs/libraries.md")


def fetched():
    """What Maven brought to build with, by the digests that are kept here."""
    digests = dict(reversed(line.split()) for line in DIGESTS.read_text(encoding="utf-8").splitlines())
    used = [jar for jar in (TOP / "reporter/target/test-class-path.txt").read_text(encoding="utf-8").strip().split(":")
            if jar.endswith(".jar") and not jar.startswith(str(TOP))]
    repository = next((folder for jar in used for folder in pathlib.Path(jar).parents
                       if os.path.relpath(jar, folder) in digests), pathlib.Path("/"))
    for jar in used:
        check(f"{jar} has a digest", os.path.relpath(jar, repository) in digests, "record them anew, as DEVELOPERS.md says")
    there = [name for name in digests if (repository / name).exists()]
    for name in there:
        found = hashlib.sha512((repository / name).read_bytes()).hexdigest()
        check(f"{name} is as it was published", found == digests[name],
              f"SHA-512 {found}; remove it from {repository}, and see who brings another")
    print(f"{len(there)} of {len(digests)} kept digests belong to files in {repository}, and were looked at")


def vendored(text, today):
    files = [row for row in rows(text, 5) if "/" in row[0]]
    check("vendored files are listed", files)
    for name, _, digest, day, _ in files:
        file = TOP / name
        found = hashlib.sha256(file.read_bytes()).hexdigest() if file.exists() else "no such file"
        check(f"{name} is as it was published", digest.strip("`") == found, f"listed {digest}, found {found}")
        recent(name, day, today)
    foreign = {f for f in TOP.glob("*/src/main/resources/**/*") if f.suffix in (".icc", ".jar", ".so", ".ttf", ".otf")
               or f.name.endswith((".min.js", ".min.css"))}
    for file in sorted(foreign - {TOP / row[0] for row in files}):
        check(f"{file.relative_to(TOP)} stands in docs/libraries.md", False, "say where it is from, with its digest")


def newer_java():
    """Said, not failed: the archive moves without us."""
    if not shutil.which("apt-cache"):
        return
    said = dict(re.findall(r"(Installed|Candidate): (\S+)", call("apt-cache", "policy", "openjdk-17-jdk-headless").stdout))
    if said.get("Installed", "(none)") not in ("(none)", said.get("Candidate")):
        print(f"Debian has Java {said['Candidate']}; the bundle would take {said['Installed']}. Before a release:"
              " apt-get install openjdk-17-jdk-headless")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--today", type=datetime.date.fromisoformat, default=datetime.date.today(),
                        help="as if it were this day, for looking at an older release")
    today = parser.parse_args().today
    text = (TOP / "docs/libraries.md").read_text(encoding="utf-8")
    libraries(text, today)
    vendored(text, today)
    fetched()
    newer_java()
    return status()


if __name__ == "__main__":
    sys.exit(main())
