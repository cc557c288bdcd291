#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""What the agent writes on the machine under test: nothing.

Run by ./check after the build, as root. The whole file system of this machine becomes the lower layer of an overlay, in a
mount namespace of its own; in it probe, a run, and a run that is killed and cleaned up after are done from a "stick" (a
mount of its own). Whatever the agent wrote, changed or removed anywhere else then lies in the overlay's upper layer, which
must be empty; so must the memory file systems /dev/shm and /run. As a control, Java without the launcher's flags must
show up there. Takes the bundle in target/bundle if there is one, else the jar with the bundle's flags.

Options: --seconds N (length of the run's soak, default 20; the full trial is 60).
"""
import argparse
import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import time

import trial
from trial import check

TOP = pathlib.Path(__file__).resolve().parent.parent
FLAGS = ["-XX:+UseSerialGC", "-XX:TieredStopAtLevel=1", "-Xmx64m", "-Xshare:off", "-XX:-UsePerfData",
         "-XX:-CreateCoredumpOnCrash", "-XX:+ErrorFileToStderr"]
STICK = pathlib.Path("/mnt")  # there on every Debian, and empty
MEMORY = ["dev/shm", "run"]

PROCEDURE = """\
format: loadwitness-procedure/1
name: leaves-nothing
title: Some seconds of load, to see what they leave behind
sampling: 200 ms
stages:
  - id: idle
    duration: 1 s
  - id: soak
    loads: [cpu, memory]
    memory-share: 5 %
    proves: cpu
    duration: {seconds} s
safety:
  stop-above: {{cpu: 105 Cel, battery: 45 Cel}}
  silent-after: 10 s
  adapter-lost: go-on
  unguarded: allow
decision:
  rule: guarded
  guard-factor: 1
criteria:
  interruptions:
    mandatory: yes
  evidence:
    mandatory: yes
"""

def mount(*arguments):
    subprocess.run(["mount", *map(str, arguments)], check=True)


def bundle():
    """The agent's folder in target/bundle; None if there is none."""
    found = sorted((TOP / "target/bundle").glob("loadwitness-agent-*-linux-x64/loadwitness-agent"))
    return found[0].parent if found else None


def listed(folder):
    """Everything below a folder, with what tells it apart."""
    entries = []
    for path in sorted(folder.rglob("*")):
        status = path.lstat()
        entries.append(f"{path.relative_to(folder)} mode {status.st_mode:o} size {status.st_size}")
    return entries


def workers(root):
    found = []
    for entry in pathlib.Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                line = (entry / "cmdline").read_bytes()
                if b"dev.loadwitness.agent.load.child.WorkerMain" in line and os.readlink(entry / "root") == str(root):
                    found.append(int(entry.name))
            except OSError:
                continue
    return found


class Machine:
    """An overlay over this machine's whole file system, with a stick."""

    def __init__(self, folder):
        mount("-t", "tmpfs", "-o", "size=1g", "tmpfs", folder)
        self.upper, work, self.root = folder / "upper", folder / "work", folder / "machine"
        for made in (self.upper, work, self.root):
            made.mkdir()
        mount("-t", "overlay", "overlay", "-o", f"lowerdir=/,upperdir={self.upper},workdir={work}", self.root)
        for name in ("proc", "sys", "dev"):
            mount("--rbind", f"/{name}", self.root / name)
        for name in MEMORY:
            mount("-t", "tmpfs", "-o", "size=400m", "tmpfs", self.root / name)
        mount("-t", "tmpfs", "-o", "size=400m", "tmpfs", self.root / STICK.relative_to("/"))
        self.stick = self.root / STICK.relative_to("/")
        made = bundle()
        if made:
            shutil.copytree(made, self.stick / "tool", symlinks=True)
            self.agent = [str(STICK / "tool/loadwitness-agent")]
        else:
            (self.stick / "tool").mkdir()
            shutil.copy(TOP / "agent/target/loadwitness-agent.jar", self.stick / "tool")
            shutil.copytree(TOP / "thresholds", self.stick / "tool/thresholds")
            self.agent = ["java", *FLAGS, f"-Dloadwitness.home={STICK}/tool", "-jar",
                          str(STICK / "tool/loadwitness-agent.jar")]
        self.bundled = bool(made)
        print("the bundle is tried" if made else "no bundle in target/bundle: the jar is tried", flush=True)

    def start(self, *command):
        """As on a machine that knows nothing of us: an empty environment."""
        return subprocess.Popen(
            command, cwd="/", env={"PATH": "/usr/sbin:/usr/bin:/sbin:/bin"}, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, preexec_fn=self.enter)

    def enter(self):
        os.chroot(self.root)
        os.chdir("/")

    def call(self, *arguments):
        process = self.start(*self.agent, *arguments)
        return process.communicate(timeout=300)[0], process.returncode

    def memory(self):
        return [f"{name}/{e}" for name in MEMORY for e in listed(self.root / name)]

    def nothing(self, after):
        check(f"{after}: nothing was written on the machine", not listed(self.upper), "\n        ".join(listed(self.upper)))
        check(f"{after}: nothing stays in its memory", not self.memory(), "\n        ".join(self.memory()[:10]))


def trials(machine, seconds):
    for length in (seconds, 300):
        (machine.stick / f"tool/thresholds/leaves-{length}.yaml").write_text(PROCEDURE.format(seconds=length))
    machine.nothing("before")

    output, status = machine.call("probe")
    check("probe works there", status == 0 and "Where the log would go" in output, f"{status}: {output[-500:]}")
    check("probe says of a stick in memory that it is none", "IN MEMORY (tmpfs)" in output, output[-600:])
    check("probe makes no folder for a log", not (machine.stick / "tool/runs").exists())
    machine.nothing("probe")

    output, status = machine.call("run", "--procedure", f"leaves-{seconds}", "--ticket", "FBR-2026-0142")
    check("a run completes there", status == 0, f"{status}: {output[-800:]}")
    logs = list((machine.stick / "tool/runs/FBR-2026-0142").glob("*/run.jsonl"))
    check("its log lies on the stick", len(logs) == 1, output[-300:])
    check("the stick has one journal", (machine.stick / "tool/runs/loadwitness-journal.jsonl").exists())
    machine.nothing("a run")

    process = machine.start(*machine.agent, "run", "--procedure", "leaves-300", "--ticket", "FBR-2026-0143")
    end = time.monotonic() + 60
    while not workers(machine.root) and time.monotonic() < end:
        time.sleep(0.2)
    check("the load is on before the kill", bool(workers(machine.root)))
    time.sleep(2)
    process.send_signal(signal.SIGKILL)
    process.wait()
    end = time.monotonic() + 15
    while workers(machine.root) and time.monotonic() < end:
        time.sleep(0.2)
    check("a killed run leaves no load", not workers(machine.root))
    if machine.bundled:
        check("a killed run leaves its copy in memory (or this test shows nothing)", bool(machine.memory()))
    output, status = machine.call("clean")
    check("clean lists what is there, and asks nobody", status == 1 and "can go" in output, f"{status}: {output}")
    output, status = machine.call("clean", "--yes", "--json")
    kept = [pathlib.PurePath(f["path"]).name for f in json.loads(output)["found"] if not f["removed"]]
    check("clean --yes removes all but what resume needs", kept == ["run.reserve"], output)
    run = next((machine.stick / "tool/runs/FBR-2026-0143").glob("*"))
    output, status = machine.call("resume", str(STICK / run.relative_to(machine.stick)))
    check("the killed run is closed by resume", status == 1 and "is closed" in output, f"{status}: {output}")
    output, status = machine.call("clean")
    check("nothing is left to clean", status == 0 and "can go" not in output, f"{status}: {output}")
    left = sorted(p.name for p in (machine.stick / "tool/runs/FBR-2026-0143").glob("*/*"))
    check("the killed run's log stays, and only that", left == ["run.jsonl"], left)
    machine.nothing("a killed run, clean and resume")

    jar = next((machine.stick / "tool").rglob("loadwitness-agent.jar")).relative_to(machine.stick)
    control = machine.start("java", "-jar", str(STICK / jar), "--version")
    control.communicate(timeout=60)
    check("the control shows: Java without our flags leaves a file", any("hsperfdata" in e for e in listed(machine.upper)),
          listed(machine.upper))


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=int, default=20)
    options = options.parse_args()
    if os.geteuid() != 0:
        print("leaves_nothing: needs root (a mount namespace and an overlay)", file=sys.stderr)
        return 1
    trial.alone()
    with tempfile.TemporaryDirectory(prefix="loadwitness-leaves-") as name:
        machine = Machine(pathlib.Path(name))
        try:
            trials(machine, options.seconds)
        finally:
            for pid in workers(machine.root):
                os.kill(pid, signal.SIGKILL)
            subprocess.run(["umount", "-R", "-l", name], check=False)
    return trial.status()


if __name__ == "__main__":
    sys.exit(main())
