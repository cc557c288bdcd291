#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Prints sizes, start-up and memory of the portable agent as a table.

Linux, Python 3.9 or later, standard library only. Needs target/bundle (bundle/build). Exit status: 0 measured, whatever
the figures are; 1 could not measure.
"""
import argparse
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

TOP = pathlib.Path(__file__).resolve().parent.parent
TICK = os.sysconf("SC_CLK_TCK")


def size_of(path):
    if path.is_file():
        return path.stat().st_size
    return sum(f.stat().st_size for f in path.rglob("*") if f.is_file())


def stat(pid):
    fields = pathlib.Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()
    return [int(x) for x in fields[11:15]]  # user, system, and those of children that ended


def memory(pid):
    for line in pathlib.Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) * 1024
    raise RuntimeError("the kernel does not tell the most memory used")


def start(agent, seconds):
    """One start: processor time and wall time to the header and to the first sample on the disk; most memory later."""
    with tempfile.TemporaryDirectory(dir=TOP / "target") as place:
        log = pathlib.Path(place) / "run" / "run.jsonl"
        begin = time.monotonic()
        # The launcher becomes the program: one process from start to end.
        process = subprocess.Popen(
            ["sh", str(agent), "observe", "--for", f"{seconds} s", "--out", str(log.parent)],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env={"PATH": os.environ["PATH"]})
        marks = {}
        most = 0
        while process.poll() is None:
            try:
                ticks = sum(stat(process.pid))
                most = memory(process.pid)
            except (FileNotFoundError, ProcessLookupError, RuntimeError):
                break
            text = log.read_bytes() if log.exists() else b""
            for name, sign in (("header", b"\n"), ("sample", b'"type":"sample"')):
                if name not in marks and sign in text:
                    marks[name] = (ticks / TICK, time.monotonic() - begin)
            time.sleep(0.002 if len(marks) < 2 else 0.2)
        process.wait()
        if process.returncode != 0 or len(marks) < 2:
            raise RuntimeError("the agent did not run: " + process.stderr.read().decode(errors="replace"))
        return marks["header"], marks["sample"], most


def row(what, figure, aim, met):
    print(f"| {what} | {figure} | {aim} | {'met' if met else 'NOT MET'} |" if aim else f"| {what} | {figure} | | |")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--bundle", type=pathlib.Path, default=TOP / "target/bundle", help="folder that bundle/build made")
    parser.add_argument("--starts", type=int, default=5, help="how many starts (default: 5)")
    parser.add_argument("--seconds", type=int, default=20, help="length of each (default: 20)")
    options = parser.parse_args()
    folders = [f for f in sorted(options.bundle.glob("loadwitness-agent-*-linux-x64")) if f.is_dir()]
    if len(folders) != 1:
        print(f"{options.bundle} holds no portable agent; run bundle/build first", file=sys.stderr)
        return 1
    agent = folders[0]
    try:
        starts = [start(agent / "loadwitness-agent", options.seconds) for _ in range(options.starts)]
    except RuntimeError as e:
        print(e, file=sys.stderr)
        return 1
    print(f"Median of {options.starts} starts, first one cold or not as it fell; processor time includes the copy into memory.\n")
    print("| what | measured | aim | |\n| --- | --- | --- | --- |")
    archive = size_of(pathlib.Path(f"{agent}.tar.xz"))
    unpacked = size_of(agent)
    row("agent's archive", f"{archive / 1e6:.1f} MB", "below 25 MB", archive < 25e6)
    row("agent unpacked", f"{unpacked / 1e6:.1f} MB", "below 45 MB", unpacked < 45e6)
    whole = pathlib.Path(str(agent).replace("loadwitness-agent-", "loadwitness-"))
    row("agent and reporter, archive", f"{size_of(pathlib.Path(f'{whole}.tar.xz')) / 1e6:.1f} MB", "", True)
    row("agent and reporter, unpacked", f"{size_of(whole) / 1e6:.1f} MB", "", True)
    for package in options.bundle.glob("*.deb"):
        row("Debian package", f"{size_of(package) / 1e6:.1f} MB", "", True)
    for index, name in ((0, "header"), (1, "first sample")):
        cpu = statistics.median(s[index][0] for s in starts)
        wall = statistics.median(s[index][1] for s in starts)
        row(f"launch to {name} on disk, processor", f"{cpu:.2f} s", "below 1 s", cpu < 1)
        row(f"launch to {name} on disk, clock", f"{wall:.2f} s", "", True)
    most = max(s[2] for s in starts)
    row(f"most resident memory in {options.seconds} s", f"{most / 1e6:.1f} MB", "below 70 MB", most < 70e6)
    return 0


if __name__ == "__main__":
    sys.exit(main())
