#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The fuzzing campaign: logs, procedures and sheets, and reports, changed where they have a structure, by the thousand.

For each sort of input it starts one Java machine of the heap that docs/run-log.md states, tells what was found and what was
reached, and then plants faults, each in a copy of one class outside of the jars, which the same campaign must find.
docs/fuzzing.md says what must hold for every input. Exit status 0 if nothing was found and every planted fault was, else 1.

  checks/fuzz.py                       about a minute: what ./check runs
  checks/fuzz.py --whole               a million logs, 100,000 YAML files, 10,000 reports: about an hour and a half of one core
  checks/fuzz.py --only log --inputs 50000 --seed 7
"""
import argparse
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parent.parent
MAIN = TOP / "reporter/src/main/java/dev/loadwitness/reporter"
RUNLOG = TOP / "runlog/src/main/java/dev/loadwitness/runlog"
MINUTE = {"log": 4_000, "yaml": 4_000, "pdf": 150}
WHOLE = {"log": 1_000_000, "yaml": 100_000, "pdf": 10_000}

# Target, file, what stands in it, what is planted instead, inputs that must be enough, and whether the minute tries it.
PLANTED = [
    ("log", MAIN / "criteria/power/PowerHeld.java", "* Math.abs(watts)", "* watts", 40_000, False),
    ("log", MAIN / "scan/belief/ScaleScan.java", "LARGEST = 1e21", "LARGEST = Double.MAX_VALUE", 20_000, False),
    ("log", MAIN / "scan/stage/StepScan.java", "catch (NumberFormatException e)", "catch (IllegalStateException e)", 20_000, False),
    ("log", MAIN / "text/VerdictJson.java", "return Shown.json(out.append('\\n').toString())",
     "return out.append('\\n').toString()", 4_000, True),
    ("log", RUNLOG / "file/line/RecordDecoder.java", "value < least ||", "", 20_000, False),
    ("yaml", RUNLOG / "yaml/Reading.java", "Shown.visible(c) ? c : '?'", "c", 8_000, True),
    ("yaml", RUNLOG / "yaml/Reading.java", "catch (DateTimeParseException e)", "catch (IllegalStateException e)", 20_000, False),
    ("pdf", MAIN / "signature/PdfAttachments.java", "throw new SigningException(\"the file \" + name + \" is damaged\", e);", "throw new IllegalStateException(e);",
     2_000, True),
    ("pdf", MAIN / "ReportCheck.java", "if (same) {", "if (again.length > 0) {", 150, True),
    ("pdf", MAIN / "signature/PdfSignatureCheck.java", "return again.length == pdf.length", "return again.length == pdf.length || mark > 0",
     150, False),
]


def java(given, classpath, agent, *arguments):
    command = ["java", f"-Xmx{given.heap}m", "-XX:+UseSerialGC"]
    if not given.whole:
        command.append("-XX:TieredStopAtLevel=1")  # else most of a minute goes to the compiler
    if agent:
        command.append(f"-javaagent:{agent}=output=none,includes=dev.loadwitness.*,excludes=dev.loadwitness.reporter.fuzz.*")
    command += ["-cp", classpath, "dev.loadwitness.reporter.fuzz.Campaign", *arguments]
    return subprocess.run(command, cwd=TOP, capture_output=True, text=True)


def fields(line):
    return dict(word.split("=", 1) for word in line.split() if "=" in word)


class Campaign:
    def __init__(self, given):
        self.given = given
        self.classpath = given.classpath or (TOP / "reporter/target/test-class-path.txt").read_text().strip()
        agents = [p for p in self.classpath.split(":") if re.search(r"org\.jacoco\.agent-.*-runtime\.jar$", p)]
        if not agents:
            sys.exit("fuzz: JaCoCo's agent is not on the test class path; build first (mvn -DskipTests package)")
        self.agent = agents[0]
        self.rows = []
        self.coverage = []
        self.planted = []
        self.wrong = 0

    def run(self, target, inputs):
        keep = pathlib.Path(self.given.keep) / target
        done = java(self.given, self.classpath, self.agent, target, str(inputs), str(self.given.seed), str(keep))
        result = [line for line in done.stdout.splitlines() if line.startswith("RESULT")]
        if not result:
            self.wrong += 1
            print(f"WRONG {target}: the campaign itself ended with {done.returncode}\n{done.stdout[-3000:]}{done.stderr[-3000:]}")
            return
        found = fields(result[0])
        self.rows.append(found)
        print(f"{target}: seed {found['seed']}, {int(found['inputs']):,} inputs in {found['seconds']} s of processor time"
              f" ({found['rate']}/s), {found['different']} different outcomes, slowest {found['slowest']} s,"
              f" peak heap {found['heap']} MB, {found['findings']} findings", flush=True)
        for line in done.stdout.splitlines():
            if line.startswith("COVERAGE"):
                name, numbers = line.split()[1], fields(line)
                self.coverage.append((target, name, numbers["lines"], numbers["branches"]))
                if name == "all":
                    print(f"  reached {share(numbers['lines'])} of the lines and {share(numbers['branches'])} of the branches"
                          f" under test ({numbers['lines']}, {numbers['branches']})", flush=True)
        if found["findings"] != "0":
            self.wrong += 1
            print(f"  inputs in {keep}; put them into reporter/src/test/resources/fuzz/{target} once they are mended")
            print("\n".join(line for line in done.stdout.splitlines() if line.startswith(("FINDING", "FOUND", "\tat dev")))[:6000])

    def plant(self, target, file, old, new, inputs):
        text = file.read_text()
        name = f"{file.name}: {old!r} -> {new!r}"
        if text.count(old) != 1:
            self.wrong += 1
            self.planted.append((target, file.name, "no longer fits"))
            print(f"WRONG planted fault no longer fits (checks/fuzz.py): {name}")
            return
        with tempfile.TemporaryDirectory() as folder:
            package = re.search(r"^package ([\w.]+);", text, re.M).group(1)
            source = pathlib.Path(folder) / "source" / package.replace(".", "/") / file.name
            source.parent.mkdir(parents=True)
            source.write_text(text.replace(old, new))
            classes = pathlib.Path(folder) / "classes"
            subprocess.run(["javac", "-nowarn", "-proc:none", "-d", str(classes), "-cp", self.classpath, str(source)],
                           check=True, capture_output=True)
            done = java(self.given, f"{classes}:{self.classpath}", None, target, str(inputs), str(self.given.seed),
                        str(pathlib.Path(folder) / "found"), "--first")
        hit = re.search(r"^FOUND (.*?) \(.*input (\d+)", done.stdout, re.M)
        if hit:
            self.planted.append((target, file.name, f"input {int(hit.group(2)):,}"))
            print(f"  planted in {name}: found at input {int(hit.group(2)):,}: {hit.group(1)[:100]}", flush=True)
        else:
            self.wrong += 1
            self.planted.append((target, file.name, f"not within {inputs:,}"))
            print(f"WRONG planted in {name}: not found within {inputs:,} inputs\n{done.stdout[-1500:]}{done.stderr[-1500:]}")

    def table(self):
        """For docs/fuzzing.md."""
        print("\n| input | seed | number | a second, one core | slowest | peak heap | lines reached | branches | found |")
        print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
        for row in self.rows:
            whole = [c for c in self.coverage if c[0] == row["target"] and c[1] == "all"]
            lines, branches = (share(whole[0][2]), share(whole[0][3])) if whole else ("", "")
            print(f"| {row['target']} | {row['seed']} | {int(row['inputs']):,} | {row['rate']} | {row['slowest']} s | {row['heap']} MB"
                  f" | {lines} | {branches} | {row['findings']} |")
        print("\n| target | package | lines | branches |\n| --- | --- | --- | --- |")
        for target, name, lines, branches in self.coverage:
            if name != "all":
                print(f"| {target} | `{name}` | {share(lines)} | {share(branches)} |")
        print("\n| planted in | found |\n| --- | --- |")
        for target, name, at in self.planted:
            print(f"| {name} ({target}) | {at} |")


def share(text):
    part, whole = (int(number) for number in text.split("/"))
    return f"{100 * part / whole:.0f} %" if whole else "-"


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--whole", action="store_true", help="the whole campaign, and every planted fault")
    options.add_argument("--only", choices=list(MINUTE), help="one sort of input")
    options.add_argument("--inputs", type=int, help="how many, with --only")
    options.add_argument("--part", type=float, default=1, help="of --whole, this share of the inputs, for example 0.1")
    options.add_argument("--seed", type=int, default=20261125)
    options.add_argument("--heap", type=int, default=512, help="MB (default: 512)")
    options.add_argument("--keep", default=str(TOP / "target/fuzz"), help="where inputs that show a finding go")
    options.add_argument("--no-planted", action="store_true")
    options.add_argument("--classpath", help=argparse.SUPPRESS)
    given = options.parse_args()
    if os.path.isdir(given.keep):
        shutil.rmtree(given.keep)
    campaign = Campaign(given)
    for target, inputs in (WHOLE if given.whole else MINUTE).items():
        if given.only not in (None, target):
            continue
        campaign.run(target, given.inputs or int(inputs * (given.part if given.whole else 1)))
        for planted, file, old, new, enough, quick in PLANTED:
            if planted == target and not given.no_planted and (given.whole or quick):
                campaign.plant(target, file, old, new, enough)
    if given.whole:
        campaign.table()
    print(f"{campaign.wrong} wrong")
    return 1 if campaign.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
