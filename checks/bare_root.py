#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The whole bundle in a bare Debian root without Java (debootstrap), by chroot: users, environments, mounts, odd paths.
And, not with --short, `./soak` from a clone there, with git and nothing else: a quarter of an hour and a network.

Needs root rights, what bundle/build made, and debootstrap. Works in a mount namespace of its own, so that nothing stays
mounted. A chroot shares this machine's kernel: see emulated_stick.py for another one. Exit status 0 if all is well, else 1.
"""
import argparse
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

import trial
from machine import build

TOP = pathlib.Path(__file__).resolve().parent.parent
FOLDER = "/opt/bench stick äöü ✓"
NOBODY = 65534

PROCEDURE = trial.procedure(
    "bare-root", "Some seconds of load in a bare root", [trial.stage("cpu-soak", "3 s")], "500 ms", "70 %", "5 s")

failed = 0


def check(name, condition, detail=""):
    global failed
    print(f"{'ok    ' if condition else 'FAILED'}  {name}", flush=True)
    if not condition:
        failed += 1
        print("\n".join("        " + line for line in str(detail)[-3000:].splitlines()), flush=True)


def inside(root, user, environment, *command, limit=180):
    """Runs a program in the chroot with nothing in its environment but what is given."""
    become = [] if user == 0 else [f"--userspec={user}:{user}"]
    try:
        done = subprocess.run(
            ["chroot", *become, str(root), "/usr/bin/env", "-i", "PATH=/opt/broken:/usr/bin:/bin", *environment, *command],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=limit, check=False)
    except subprocess.TimeoutExpired as late:
        return -1, f"not within {limit} s\n{(late.stdout or b'').decode(errors='replace')}"
    return done.returncode, done.stdout.decode(errors="replace")


def all_commands(root, name, user, environment, home):
    # Each in a folder of its own: what one user leaves, another could not write to.
    where = tempfile.mkdtemp(dir=root / "var/tmp")
    os.chown(where, user, user)
    there = "/" + str(pathlib.Path(where).relative_to(root))
    secret = [*environment, "LOADWITNESS_PASSPHRASE=not-a-secret-1234"]
    signing = ("--passphrase-env", "LOADWITNESS_PASSPHRASE")
    for what, variables, command in (
            ("probe", environment, ("agent", "probe", "--out", there)),
            ("run", environment, ("agent", "run", "--procedure", "/opt/short.yaml", "--out", f"{there}/run")),
            ("judge", environment, ("reporter", "judge", f"{there}/run/run.jsonl")),
            ("signing-key", secret, ("reporter", "signing-key", "--out", f"{there}/key.p12", "--name", "Throw-away", *signing)),
            ("certify", secret, ("reporter", "certify", f"{there}/run/run.jsonl", "--key", f"{there}/key.p12",
                                 "--out", f"{there}/report.pdf", *signing)),
            ("verify", environment, ("reporter", "verify", f"{there}/report.pdf"))):
        begin = time.monotonic()
        status, output = inside(root, user, variables, "sh", f"{home}/loadwitness-{command[0]}", *command[1:])
        check(f"{name}: {what} ({time.monotonic() - begin:.1f} s)", status == 0, f"status {status}\n{output}")


def mount(*arguments):
    build.run("mount", *arguments)


def check_all(bundle, work, short):
    root = work / "root"
    build.run("cp", "-a", build.minimal_debian(), root)
    shutil.copytree(bundle, root / FOLDER[1:], symlinks=True)
    (root / "opt/short.yaml").write_text(PROCEDURE, encoding="utf-8")
    broken = root / "opt/broken/java"
    broken.parent.mkdir()
    broken.write_text("#!/bin/sh\necho 'a broken java was called' >&2\nexit 3\n", encoding="ascii")
    broken.chmod(0o755)
    # A mount of its own, as every real root is: Java's getFileStore fails where "/" is in no line of /proc/mounts.
    mount_kernel(root)

    cases = [
        ("root, LC_ALL=tr_TR.UTF-8", 0, ["LC_ALL=tr_TR.UTF-8"]),
        ("nobody, nothing set", NOBODY, [])]
    if not short:
        cases += [
            ("root, LANG=C", 0, ["LANG=C", "HOME=/root"]),
            ("nobody, LC_ALL=C.UTF-8, HOME that is not there", NOBODY, ["LC_ALL=C.UTF-8", "HOME=/nonexistent"])]
    for name, user, environment in cases:
        all_commands(root, name, user, environment, FOLDER)

    for option in ("noexec",) if short else ("ro", "noexec"):
        place = root / "mnt" / option
        place.mkdir()
        mount("--bind", root / FOLDER[1:], place)
        mount("-o", f"remount,bind,{option}", place)
        all_commands(root, f"nobody, bundle mounted {option}", NOBODY, [], f"/mnt/{option}")

    mount("-o", "remount,noexec", root / "dev/shm")
    status, output = inside(root, NOBODY, [], "sh", "/mnt/noexec/loadwitness-agent", "probe")
    check("nothing can be executed anywhere: status 69 and what to do about it",
          status == 69 and "remount,exec" in output, f"status {status}\n{output}")
    left = [entry.name for folder in ("dev/shm", "tmp", "run", "root") for entry in (root / folder).glob("*loadwitness*")]
    check("nothing of ours is left in memory or temporary folders", not left, left)


def mount_kernel(root):
    """What the kernel shows to every root, and the devices that programs expect."""
    mount("--bind", root, root)
    mount("-t", "proc", "proc", root / "proc")
    mount("-t", "sysfs", "-o", "ro", "sysfs", root / "sys")
    for device in ("null", "urandom", "random"):
        mount("--bind", f"/dev/{device}", _file(root / "dev" / device))
    (root / "dev/shm").mkdir(exist_ok=True)
    mount("-t", "tmpfs", "-o", "mode=1777", "tmpfs", root / "dev/shm")


def check_soak(work):
    """From a clone on a Debian with git and nothing else: `./soak` installs, builds, runs, judges, signs."""
    root = work / "soak-root"
    build.run("cp", "-a", build.minimal_debian(("git", "ca-certificates")), root)
    mount_kernel(root)
    # The way to packages and network is this machine's: a chroot has none of its own.
    shutil.copytree("/etc/apt/apt.conf.d", root / "etc/apt/apt.conf.d", dirs_exist_ok=True)
    for name in ("resolv.conf", "hosts"):
        shutil.copy(f"/etc/{name}", root / "etc" / name)
    # A network that looks into what is fetched has a certificate of its own, which its machines trust.
    trusted = "usr/local/share/ca-certificates"
    shutil.copytree(f"/{trusted}", root / trusted, dirs_exist_ok=True)
    status, output = inside(root, 0, [], "/usr/sbin/update-ca-certificates")
    check("the bare root trusts whom this machine trusts", status == 0, output)
    source = root / "mnt/source"
    source.mkdir()
    mount("--bind", "-o", "ro", TOP, source)
    status, output = inside(root, 0, ["HOME=/root"], "git", "-c", "safe.directory=*", "clone", "-q", "/mnt/source", "/root/loadwitness")
    check("a clone in a bare root", status == 0, output)
    for name, most in (("first use", 3600), ("once more", 600)):
        begin = time.monotonic()
        out = f"/root/{name.replace(' ', '-')}"
        status, output = inside(root, 0, ["HOME=/root"], "sh", "-c", f"cd /root/loadwitness && ./soak --out {out} </dev/null", limit=most)
        check(f"./soak, {name}: ends with a verdict ({time.monotonic() - begin:.0f} s)", status in (0, 2), f"status {status}\n{output}")
        files = sorted(entry.name for entry in (root / out[1:]).glob("*"))
        check(f"./soak, {name}: log, verdict, report and page are there", set(files) >= {"run.jsonl", "verdict.json", "report.pdf", "review.html"}, files)
        if name == "first use":
            said = ["lacks: openjdk-", "Building Loadwitness", "files fetched", "reporter"]
            check("what it installs and builds is said", all(part in output for part in said), output)


def _file(path):
    if not path.exists():
        path.touch()
    return path


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--bundle", type=pathlib.Path, default=TOP / "target/bundle", help="what bundle/build made")
    parser.add_argument("--short", action="store_true", help="half of the cases")
    arguments = parser.parse_args()
    if os.geteuid() != 0:
        print("bare_root.py needs root rights (debootstrap, chroot, mount)", file=sys.stderr)
        return 77
    trial.alone()
    found = [folder for folder in arguments.bundle.glob("loadwitness-[0-9]*-linux-x64") if folder.is_dir()]
    if len(found) != 1:
        print(f"no bundle in {arguments.bundle}; make it with bundle/build, or name it with --bundle", file=sys.stderr)
        return 66
    begin = time.monotonic()
    work = pathlib.Path(tempfile.mkdtemp(prefix="bare-root-"))
    try:
        check_all(found[0], work, arguments.short)
        if not arguments.short:
            check_soak(work)
    except build.BuildError as trouble:
        check("the check itself could go on", False, trouble)
    finally:
        # Deepest first; a folder with anything still mounted below it must not be removed.
        mounted = [line.split()[1] for line in pathlib.Path("/proc/mounts").read_text(encoding="utf-8").splitlines()]
        below = sorted((place for place in mounted if place.startswith(f"{work}/")), key=len, reverse=True)
        stuck = [place for place in below if subprocess.run(["umount", place], check=False).returncode]
        if not stuck:
            shutil.rmtree(work)
    print(f"{time.monotonic() - begin:.0f} s; " + (f"{failed} failed" if failed else "all is as it should be"))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
