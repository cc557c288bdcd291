#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The Debian package, as a bench computer has it: installed in a clean root, used by an ordinary user, removed.

The root is Debian's smallest, without Java, without network. What the package leaves behind there is a failure, and so
is whatever the programs leave outside the folder that they were told to write to. Needs root.
"""
import argparse
import hashlib
import json
import os
import pathlib
import re
import shutil
import stat
import subprocess
import sys
import tempfile
import time

import trial
from trial import call, check

TOP = pathlib.Path(__file__).resolve().parent.parent
TOOLS = ("debootstrap", "dpkg-deb", "lintian", "man", "mount", "tar", "unshare", "chroot", "setpriv")
PROGRAMS = ("loadwitness-agent", "loadwitness-reporter")
USER, HOME, FOLDER = 1000, "/home/bench", "/home/bench/FBR-2026-0142"
PROCEDURE = "/usr/share/loadwitness/thresholds/quick-check.yaml"

# dpkg's own books; what is in them of a package that is gone is dpkg's business.
DPKG_KEEPS = re.compile(
    r"/var/log/(dpkg|alternatives)\.log"
    r"|/var/lib/dpkg/(status|status-old|available|available-old|lock|lock-frontend|triggers/Lock|triggers/Unincorp)"
    r"|/var/cache/ldconfig/aux-cache")

def must(*command):
    result = call(*command)
    if result.returncode != 0:
        sys.exit(f"installed: {' '.join(command)} ended with {result.returncode}:\n{result.stdout}{result.stderr}")
    return result.stdout


def this_debian():
    """Mirror and code name that this machine itself installs from."""
    for line in must("apt-get", "indextargets", "--format", "$(REPO_URI) $(CODENAME)",
                     "Created-By: Packages").splitlines():
        mirror, _, name = line.partition(" ")
        if name and "-" not in name:
            return mirror, name
    sys.exit("installed: apt knows no Debian mirror; give --mirror and --suite")


def clean_root(folder, cache, mirror, suite):
    """Debian's smallest root, unpacked; made once and kept as an archive in the cache."""
    archive = cache / f"minbase-{suite}-root.tar"
    if not archive.exists():
        print(f"making a clean root of {suite} ...", flush=True)
        fresh = folder / "fresh"
        must("debootstrap", "--variant=minbase", suite, str(fresh), mirror)
        cache.mkdir(parents=True, exist_ok=True)
        unfinished = archive.with_suffix(f".{os.getpid()}")
        must("tar", "-C", str(fresh), "--numeric-owner", "-cf", str(unfinished), ".")
        unfinished.rename(archive)
        shutil.rmtree(fresh)
    root = folder / "root"
    root.mkdir()
    must("tar", "-C", str(root), "--numeric-owner", "-xpf", str(archive))
    return root


class Root:
    """Commands in the clean root, in namespaces of their own: no network, and nothing mounted that stays."""

    # The root is mounted on itself, so that / is a mount point in there as it is on every real machine.
    INSIDE = ('mount --bind "$0" "$0" && mount -t proc proc "$0/proc" && mount --rbind /sys "$0/sys" '
              '&& exec chroot "$@"')

    def __init__(self, path):
        self.path = path

    def _call(self, prefix, command, environment):
        variables = {"PATH": "/usr/sbin:/usr/bin:/sbin:/bin", **environment}
        return call("unshare", "--mount", "--pid", "--net", "--fork", "--kill-child", "sh", "-c", self.INSIDE,
                    str(self.path), str(self.path), *prefix, *command, env=variables, stdin=subprocess.DEVNULL)

    def as_root(self, *command):
        return self._call((), command, {})

    def as_user(self, *command, **environment):
        identity = ("setpriv", f"--reuid={USER}", f"--regid={USER}", "--clear-groups")
        return self._call(identity, ("sh", "-c", f'cd {HOME} && exec "$@"', "sh", *command), environment)

    def files(self):
        """Every path with type, mode, owner and content."""
        found = {}
        for folder, folders, names in os.walk(self.path):
            for name in folders + names:
                path = os.path.join(folder, name)
                at = os.lstat(path)
                content = ""
                if stat.S_ISREG(at.st_mode):
                    with open(path, "rb") as file:
                        content = hashlib.file_digest(file, "sha256").hexdigest()
                elif stat.S_ISLNK(at.st_mode):
                    content = os.readlink(path)
                found["/" + os.path.relpath(path, self.path)] = (oct(at.st_mode), at.st_uid, at.st_gid, content)
        return found


def differences(before, after):
    return sorted(
        f"{'changed' if path in before and path in after else 'left' if path in after else 'gone'} {path}"
        for path in before.keys() | after.keys()
        if before.get(path) != after.get(path) and not DPKG_KEEPS.fullmatch(path))


def sound_package(package):
    seen = call("lintian", "--no-cfg", "--allow-root", "--fail-on", "error,warning", str(package))
    check("lintian finds no error and no warning", seen.returncode == 0, seen.stdout + seen.stderr)


def installed_files(root, before):
    result = root.as_root("dpkg", "-i", "/package.deb")
    check("dpkg -i needs nothing that Debian's smallest root lacks", result.returncode == 0,
          result.stdout + result.stderr)
    (root.path / "package.deb").unlink()
    listed = set(root.as_root("dpkg", "-L", "loadwitness").stdout.splitlines())
    strangers = [line for line in differences(before, root.files())
                 if line.split(" ", 1)[1] not in listed
                 and not line.startswith("left /var/lib/dpkg/info/loadwitness.")]
    check("the package changes nothing but its own files", not strangers, strangers)
    verified = root.as_root("dpkg", "--verify", "loadwitness")
    check("the installed files are those of the package", verified.returncode == 0 and not verified.stdout,
          verified.stdout + verified.stderr)


def help_and_pages(root, version):
    for program in PROGRAMS:
        told = root.as_user(program, "--version")
        check(f"{program} tells the package's version", f"{program} {version}" in told.stdout, told.stdout + told.stderr)
        spoilt = root.as_user(program, "--version", JAVA_TOOL_OPTIONS="-Xnonsense", LD_PRELOAD="/no/such.so")
        check(f"{program} is not disturbed by what is set up for another Java",
              (spoilt.returncode, spoilt.stdout) == (0, told.stdout), spoilt.stdout + spoilt.stderr)
        text = root.as_user(program, "--help").stdout
        commands = re.findall(r"^  ([a-z][a-z-]*)  ", text.partition("Commands:")[2].partition("Example")[0], re.M)
        check(f"{program} --help lists commands", len(commands) >= 3, text)
        page(root, program, text)
        for command in commands:
            page(root, f"{program}-{command}", root.as_user(program, command, "--help").stdout)
        completed(root, program, commands)


def page(root, name, text):
    file = root.path / f"usr/share/man/man1/{name}.1.gz"
    check(f"{name} has a manual page", file.exists(), file)
    if not file.exists():
        return
    shown = call("man", "--warnings", "-E", "UTF-8", "-l", str(file), env={**os.environ, "MANWIDTH": "500"})
    check(f"the page of {name} is without fault", shown.returncode == 0 and not shown.stderr, shown.stderr)
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", text))
    missing = [option for option in named if option not in shown.stdout]
    check(f"the page of {name} has every option of its help", len(named) >= 2 and not missing, missing or text)
    indexed = call("lexgrog", str(file))
    check(f"whatis can read the page of {name}", indexed.returncode == 0 and f'"{name} - ' in indexed.stdout,
          indexed.stdout + indexed.stderr)


def completed(root, program, commands):
    def offered(*words):
        # compopt works only while bash itself completes; here the function is called by hand.
        script = (f"compopt() {{ :; }}; source /usr/share/bash-completion/completions/{program} && COMP_WORDS=(\"$@\") && "
                  f"COMP_CWORD=$(($# - 1)) && _complete_{program} && echo \"${{COMPREPLY[*]}}\"")
        result = root.as_user("bash", "-c", script, "bash", *words)
        return result.stdout.split(), result.stderr

    for command in commands:
        words, complaint = offered(program, command[:-1])
        check(f"bash completes {program} {command}", command in words and not complaint, f"{words} {complaint}")
    words, complaint = offered(program, "")
    check(f"bash offers all commands of {program}", set(commands) <= set(words) and not complaint, f"{words} {complaint}")
    words, complaint = offered(program, commands[0], "--he")
    check(f"bash completes options of {program}", words == ["--help"] and not complaint, f"{words} {complaint}")


def a_run(root):
    probe = root.as_user("loadwitness-agent", "probe", "--procedure", PROCEDURE, "--out", HOME)
    check("probe works for an ordinary user", probe.returncode == 0 and "What can be measured" in probe.stdout,
          probe.stdout + probe.stderr)
    sheet = "/usr/share/doc/loadwitness/examples/job-sheet.yaml"
    began = time.monotonic()
    # The installed procedure with shorter stages: what is looked at here is the package, not the soak.
    short = re.sub(r"duration: \d+ s", "duration: 12 s", (root.path / PROCEDURE[1:]).read_text(encoding="utf-8"))
    short = short.replace("at-least: 50 s", "at-least: 3 s").replace("window: 20 s", "window: 2 s")
    (root.path / HOME[1:] / "short.yaml").write_text(short, encoding="utf-8")
    run = root.as_user("loadwitness-agent", "run", "--procedure", f"{HOME}/short.yaml", "--job", sheet, "--ambient", "22.5",
                       "--out", f"{FOLDER}/1", "--journal", f"{FOLDER}/journal.jsonl")
    (root.path / HOME[1:] / "short.yaml").unlink()
    check("a run completes", run.returncode == 0 and time.monotonic() - began > 15,
          run.stdout[-2000:] + run.stderr)
    log = f"{FOLDER}/1/run.jsonl"
    judged = root.as_user("loadwitness-reporter", "judge", log, "--write-json", f"{FOLDER}/verdict.json")
    check("judge comes to a verdict", judged.returncode in (0, 1, 2) and judged.stdout, judged.stdout + judged.stderr)
    verdict = root.path / f"{FOLDER[1:]}/verdict.json"
    outcome = json.loads(verdict.read_text())["outcome"] if verdict.exists() else "none"
    check("the exit status is the verdict", ["pass", "fail", "inconclusive"][judged.returncode:][:1] == [outcome],
          f"{judged.returncode} {outcome}")
    report(root, log, judged.returncode)


def report(root, log, status):
    secret = {"PASS_FOR_TEST": "correct horse on a bench"}
    passphrase = ("--passphrase-env", "PASS_FOR_TEST")
    key = root.as_user("loadwitness-reporter", "signing-key", "--out", f"{FOLDER}/key.p12", "--name", "Installed Check",
                       *passphrase, **secret)
    check("a signing key is made", key.returncode == 0, key.stdout + key.stderr)
    pdf = root.as_user("loadwitness-reporter", "certify", log, "--out", f"{FOLDER}/report.pdf", "--key",
                       f"{FOLDER}/key.p12", *passphrase, **secret)
    check("certify writes the report, with the status of judge", pdf.returncode == status, pdf.stdout + pdf.stderr)
    for file in (f"{FOLDER}/report.pdf", log):
        verified = root.as_user("loadwitness-reporter", "verify", file)
        check(f"verify finds {file} genuine", verified.returncode == 0, verified.stdout + verified.stderr)


def removed(root, before):
    result = root.as_root("dpkg", "-r", "loadwitness")
    check("dpkg -r removes it", result.returncode == 0, result.stdout + result.stderr)
    left = differences(before, root.files())
    check("after dpkg -r nothing is left", not left, "\n        ".join(left))
    result = root.as_root("dpkg", "--purge", "loadwitness")
    check("dpkg --purge has nothing to complain of", result.returncode == 0, result.stdout + result.stderr)
    left = differences(before, root.files())
    check("after dpkg --purge nothing is left", not left, "\n        ".join(left))
    books = (root.path / "var/lib/dpkg/status").read_text()
    check("dpkg has forgotten it", "Package: loadwitness\n" not in books)


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--package", type=pathlib.Path, help="the .deb (default: the one in target/bundle)")
    options.add_argument("--cache", type=pathlib.Path, default=pathlib.Path.home() / ".cache/loadwitness",
                         help="where the clean root is kept for the next time (default: %(default)s)")
    options.add_argument("--mirror", help="Debian mirror (default: this machine's own)")
    options.add_argument("--suite", help="Debian release (default: this machine's own)")
    options = options.parse_args()
    missing = [tool for tool in TOOLS if shutil.which(tool) is None]
    if missing or os.geteuid() != 0:
        sys.exit(f"installed: needs root, and these tools, which are missing: {' '.join(missing) or 'none'}")
    package = options.package or next(iter(sorted((TOP / "target/bundle").glob("loadwitness_*_amd64.deb"))), None)
    if package is None or not package.is_file():
        sys.exit("installed: no package; make it with ./bundle, or name it with --package")
    mirror, suite = (options.mirror, options.suite) if options.mirror and options.suite else this_debian()
    began = time.monotonic()
    sound_package(package)
    with tempfile.TemporaryDirectory(prefix="loadwitness-installed-") as name:
        root = Root(clean_root(pathlib.Path(name), options.cache, options.mirror or mirror, options.suite or suite))
        home = root.path / HOME[1:]
        home.mkdir(parents=True)
        os.chown(home, USER, USER)
        with open(root.path / "etc/passwd", "a", encoding="utf-8") as users:
            users.write(f"bench:x:{USER}:{USER}::{HOME}:/bin/bash\n")
        check("there is no Java in the clean root", root.as_user("sh", "-c", "command -v java").returncode != 0)
        before = root.files()
        shutil.copy(package, root.path / "package.deb")
        installed_files(root, before)
        help_and_pages(root, must("dpkg-deb", "-f", str(package), "Version").strip())
        a_run(root)
        shutil.rmtree(root.path / FOLDER[1:], ignore_errors=True)
        removed(root, before)
    print(f"installed: {time.monotonic() - began:.0f} s")
    return trial.status()


if __name__ == "__main__":
    sys.exit(main())
