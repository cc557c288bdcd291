#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The log on a stick that is pulled, filled, turned read-only or swapped during a run: real file systems, real agent.

Run by ./check after the build, as root. Sticks are images: ext4 through a loop device, exFAT through exfat-fuse. A
pulled ext4 stick answers every call with an I/O error (the kernel's own shutdown call for file systems), a pulled
exFAT stick has lost its driver process; both then leave the mount point empty. Options: --keep leaves the folder.
Not shown here, because this needs a machine of its own: the kernel's FAT and exFAT, and a USB device that vanishes.
"""
import argparse
import array
import fcntl
import hashlib
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time

import trial
from trial import call, check

TOP = pathlib.Path(__file__).resolve().parent.parent
AGENT = ["java", "-jar", str(TOP / "agent/target/loadwitness-agent.jar")]
REPORTER = ["java", "-jar", str(TOP / "reporter/target/loadwitness-reporter.jar")]
READ_RUN = ["python3", str(TOP / "docs/examples/read_run.py"), "--json"]
TOOLS = ["java", "mkfs.ext4", "mkfs.exfat", "mount.exfat-fuse", "losetup", "mount", "umount"]

SHUTDOWN = 0x8004587D  # FS_IOC_SHUTDOWN of linux/fs.h: _IOR('X', 125, __u32)
WITHOUT_FLUSHING = 2  # EXT4_GOING_FLAGS_NOLOGFLUSH of fs/ext4/ext4.h

def short(seconds, sampling):
    # The second load begins after the trouble: the agent's own folder may be gone by then.
    stages = [trial.stage("cpu-soak", f"{seconds} s"), trial.stage("cpu-again", "2 s")]
    return trial.procedure("stick", "Some seconds of load while the stick comes and goes", stages, sampling)

def must(*command):
    done = call(*command)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)}: {done.stdout}{done.stderr}")
    return done.stdout


class Stick:
    """An image that is plugged in at a mount point and pulled from it."""
    made = []

    def __init__(self, folder, kind, mib=32, mount=None):
        self.kind = kind
        self.image = folder / f"stick{len(Stick.made)}.img"
        self.mount = mount or folder / f"mount{len(Stick.made)}"
        self.mount.mkdir(exist_ok=True)
        self.loop = None
        with open(self.image, "wb") as image:
            image.truncate(mib << 20)
        must("mkfs.ext4", "-q", "-F", str(self.image)) if kind == "ext4" else must("mkfs.exfat", str(self.image))
        Stick.made.append(self)

    def plug(self):
        self.loop = must("losetup", "--find", "--show", str(self.image)).strip()
        if self.kind == "ext4":
            must("mount", "-o", "errors=remount-ro", self.loop, str(self.mount))
        else:
            must("mount.exfat-fuse", self.loop, str(self.mount))

    def driver(self):
        """The process that is this exFAT stick's driver."""
        for entry in pathlib.Path("/proc").iterdir():
            if entry.name.isdigit():
                try:
                    words = (entry / "cmdline").read_bytes().split(b"\0")
                except OSError:
                    continue
                if b"exfat-fuse" in words[0] and os.fsencode(self.loop) in words:
                    return int(entry.name)
        raise RuntimeError(f"no driver of {self.loop}")

    def pull(self):
        if self.kind == "ext4":
            there = os.open(self.mount, os.O_RDONLY)
            fcntl.ioctl(there, SHUTDOWN, array.array("I", [WITHOUT_FLUSHING]))
            os.close(there)
        else:
            os.kill(self.driver(), signal.SIGKILL)
            time.sleep(0.2)
        must("umount", "-l", str(self.mount))
        self.detach()

    def unmount(self):
        """Without force: fails while somebody keeps a file of it open."""
        end = time.monotonic() + 5
        done = call("umount", str(self.mount))
        while done.returncode != 0 and time.monotonic() < end:
            time.sleep(0.2)
            done = call("umount", str(self.mount))
        if done.returncode == 0:
            self.detach()
        return done

    def detach(self):
        if self.loop:
            must("losetup", "--detach", self.loop)
            self.loop = None

    def spoil(self):
        """Makes the kernel find an error in the file system, so that it turns it read-only."""
        name = pathlib.Path(self.loop).name
        pathlib.Path(f"/sys/fs/ext4/{name}/trigger_fs_error").write_text("loadwitness check\n")

    def clear_away(self):
        if os.path.ismount(self.mount):
            call("umount", "-l", str(self.mount))
        if self.loop:
            call("losetup", "--detach", self.loop)


class Run:
    """An agent at work, and what it has said so far."""
    running = []

    def __init__(self, folder, out, seconds=22, sampling="200 ms", *options, begun_in=None):
        file = folder / f"stick-{seconds}-{sampling.replace(' ', '')}.yaml"
        file.write_text(short(seconds, sampling))
        self.out = out
        # In the stick's folder, as a technician starts it.
        begun_in = begun_in or next(f for f in (out, *out.parents) if f.is_dir())
        self.process = subprocess.Popen(
            [*AGENT, "run", "--procedure", str(file), "--out", str(out), "--ticket", "FBR-2026-0142",
             "--journal", str(folder / f"journal-{len(Run.running)}.jsonl"), *options],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=begun_in)
        self.said = ""
        self.listener = threading.Thread(target=self.listen, daemon=True)
        self.listener.start()
        Run.running.append(self)

    def listen(self):
        for line in self.process.stdout:
            self.said += line

    def until_said(self, words, seconds=40):
        end = time.monotonic() + seconds
        while words not in self.said and time.monotonic() < end and self.process.poll() is None:
            time.sleep(0.05)
        check(f"it says '{words}'", words in self.said, self.said[-1500:])

    def until_loaded(self):
        self.until_said("RUNNING stage cpu-soak", 60)
        time.sleep(6)

    def end(self, seconds=120):
        try:
            status = self.process.wait(timeout=seconds)
        except subprocess.TimeoutExpired:
            self.process.kill()
            status = "never ended"
        self.listener.join(5)
        return status


def judged(name, log, status, words=""):
    """Judge and the second reader: whole, and the verdict that is to be expected."""
    result = call(*REPORTER, "judge", "--json", str(log))
    verdict = json.loads(result.stdout) if result.stdout.startswith("{") else {}
    check(f"{name}: judge answers {status}", result.returncode == status,
          f"{result.returncode}: {verdict.get('sentence')} {result.stderr}")
    check(f"{name}: the verdict says '{words}'", words in verdict.get("sentence", ""), verdict.get("sentence"))
    read = call(*READ_RUN, str(log))
    summary = json.loads(read.stdout.splitlines()[0]) if read.stdout else {}
    check(f"{name}: the log is whole to the second reader", summary.get("damageCount") == 0, read.stdout + read.stderr)
    records = {}
    for file in sorted(log.parent.glob("run*.jsonl"), key=lambda f: (f != log, f.name)):
        for line in file.read_bytes().splitlines():
            if line.endswith(b'"}') and b',"chain":"' in line:
                record = json.loads(line)
                records[record["n"]] = record  # a further part repeats what lies behind the bytes that count
    records = [records[n] for n in sorted(records)]
    check(f"{name}: as many records as the second reader finds", len(records) == sum(summary["records"].values()),
          f"{len(records)} {summary}")
    return summary, records


def nothing_lost(name, records):
    samples = [r["t"] for r in records if r["type"] == "sample"]
    close = [r for r in records if r["type"] == "close"]
    check(f"{name}: as many samples as the agent counted", close and close[-1]["samples"] == len(samples),
          f"{close} {len(samples)}")
    gap = max((b - a for a, b in zip(samples, samples[1:])), default=0) / 1e9
    check(f"{name}: no hole between samples", 0 < gap < 2, f"{gap} s")


def tidy(name, folder):
    names = sorted(f.name for f in folder.iterdir() if f.name != "lost+found")
    check(f"{name}: nothing but the log remains", all(re.fullmatch(r"run(\.part\d+)?\.jsonl", n) for n in names), names)


def digests(folder):
    return {str(f.relative_to(folder)): hashlib.sha256(f.read_bytes()).hexdigest()
            for f in sorted(folder.rglob("*")) if f.is_file()}


def pulled(folder, kind, into_folder):
    """Pulled for some seconds; the mount point is empty meanwhile."""
    name = f"{kind}, pulled and put back" + ("" if into_folder else ", log at the top of the stick")
    stick = Stick(folder, kind)
    stick.plug()
    run = Run(folder, stick.mount / "Prüfung 1" if into_folder else stick.mount)
    run.until_loaded()
    stick.pull()
    began = time.monotonic()
    run.until_said("NO LOG DISK")
    print(f"{name}: said after {time.monotonic() - began:.1f} s", flush=True)
    time.sleep(4)
    check(f"{name}: the empty mount point stays empty", not list(stick.mount.iterdir()), list(stick.mount.iterdir()))
    stick.plug()
    began = time.monotonic()
    run.until_said("DISK IS BACK")
    print(f"{name}: back after {time.monotonic() - began:.1f} s", flush=True)
    check(f"{name}: the run completes", run.end() == 0, run.said[-1500:])
    summary, records = judged(name, run.out / "run.jsonl", 0)
    nothing_lost(name, records)
    kinds = [r.get("kind") for r in records]
    check(f"{name}: the loss and the return are on record", "storage-low" in kinds and "storage-back" in kinds, kinds)
    check(f"{name}: the log goes on in a further part", summary["records"].get("part", 0) >= 1, summary)
    tidy(name, run.out)
    done = stick.unmount()
    check(f"{name}: the stick can be taken out afterwards", done.returncode == 0, done.stderr)


def turned_read_only(folder):
    name = "ext4, turned read-only by the kernel"
    stick = Stick(folder, "ext4")
    stick.plug()
    # From elsewhere: a program's own folder keeps a disk from being unmounted.
    run = Run(folder, stick.mount / "run", begun_in=folder)
    run.until_loaded()
    stick.spoil()
    run.until_said("NO LOG DISK")
    mounted = [line for line in open("/proc/mounts") if str(stick.mount) in line][0]
    check(f"{name}: it is", re.search(r"[ ,_]ro[, ]", mounted), mounted)
    time.sleep(4)
    done = stick.unmount()
    check(f"{name}: the disk can be unmounted to mend it", done.returncode == 0, done.stderr)
    if done.returncode == 0:
        call("e2fsck", "-fy", str(stick.image))
        stick.plug()
    run.until_said("DISK IS BACK")
    check(f"{name}: the run completes", run.end() == 0, run.said[-1500:])
    nothing_lost(name, judged(name, run.out / "run.jsonl", 0)[1])
    tidy(name, run.out)
    stick.unmount()


def filled(folder, kind):
    name = f"{kind}, filled and cleared"
    stick = Stick(folder, kind, mib=6)
    stick.plug()
    run = Run(folder, stick.mount / "run")
    run.until_loaded()
    filler = stick.mount / "somebody's film.mkv"
    end = time.monotonic() + 30
    while "NO LOG DISK" not in run.said and time.monotonic() < end:
        # Again and again: what the reserve gives back is used up too.
        call("dd", "if=/dev/zero", f"of={filler}", "bs=1k", "oflag=append", "conv=notrunc,fsync")
        time.sleep(0.3)
    run.until_said("NO LOG DISK")
    check(f"{name}: the reserve went first", not (run.out / "run.reserve").exists())
    filler.unlink()
    run.until_said("DISK IS BACK")
    check(f"{name}: the run completes", run.end() == 0, run.said[-1500:])
    nothing_lost(name, judged(name, run.out / "run.jsonl", 0)[1])
    tidy(name, run.out)
    stick.unmount()


def never_back(folder):
    name = "ext4, never back"
    stick = Stick(folder, "ext4")
    stick.plug()
    run = Run(folder, stick.mount / "run", 10, "200 ms", "--wait-for-log", "3")
    run.until_loaded()
    stick.pull()
    check(f"{name}: exit status 74", run.end() == 74, run.said[-1500:])
    check(f"{name}: it says what is on the disk and what is not",
          re.search(r"first \d+ records .* are on the disk; the last \d+, since \d\d:\d\d:\d\d UTC, are lost", run.said),
          run.said[-1500:])
    check(f"{name}: the empty mount point stays empty", not list(stick.mount.iterdir()))
    stick.plug()
    summary, records = judged(name, run.out / "run.jsonl", 2, "breaks off")
    told = re.search(r"first (\d+) records", run.said)
    check(f"{name}: as many are there as was said", told and int(told[1]) == len(records), f"{told} {len(records)}")
    stick.unmount()


def another_stick(folder):
    name = "another stick in its place"
    stick = Stick(folder, "ext4")
    other = Stick(folder, "ext4", mount=stick.mount)
    other.plug()
    first = Run(folder, other.mount / "run", 3)
    check(f"{name}: it holds a run of its own", first.end() == 0, first.said[-800:])
    (other.mount / "run" / "run.reserve").write_text("theirs")
    before = digests(other.mount)
    other.unmount()
    stick.plug()
    run = Run(folder, stick.mount / "run", 30)
    run.until_loaded()
    stick.pull()
    other.plug()
    run.until_said("is not this run's log")
    time.sleep(3)
    check(f"{name}: not a byte of it is changed", digests(other.mount) == before, digests(other.mount))
    check(f"{name}: none of its files is held open", other.unmount().returncode == 0)
    stick.plug()
    run.until_said("DISK IS BACK")
    check(f"{name}: the run completes", run.end() == 0, run.said[-1500:])
    nothing_lost(name, judged(name, run.out / "run.jsonl", 0)[1])
    stick.unmount()


def back_after_the_end(folder):
    name = "exfat, put back after the run's end"
    stick = Stick(folder, "exfat")
    stick.plug()
    run = Run(folder, stick.mount / "run", 10)
    run.until_loaded()
    stick.pull()
    run.until_said("The run is over and the load is off", 60)
    stick.plug()
    check(f"{name}: the run completes", run.end() == 0, run.said[-1500:])
    nothing_lost(name, judged(name, run.out / "run.jsonl", 0)[1])
    tidy(name, run.out)
    stick.unmount()


def memory_used_up(folder):
    """The memory of 4 MiB lasts half an hour and more: the run is given less."""
    name = "ext4, away for longer than the memory lasts"
    stick = Stick(folder, "ext4")
    stick.plug()
    run = Run(folder, stick.mount / "run", 300, "100 ms", "--log-memory", "64")
    run.until_loaded()
    stick.pull()
    began = time.monotonic()
    run.until_said("NO LOG DISK")
    promised = re.search(r"lasts (\d+) (min|s) more", run.said)
    run.until_said("STOPPED storage-full", 100)
    took = time.monotonic() - began
    seconds = int(promised[1]) * (60 if promised[2] == "min" else 1) if promised else 0
    print(f"{name}: said {seconds} s, lasted {took:.0f} s", flush=True)
    check(f"{name}: it said how long", promised and 0.4 < seconds / took < 2, f"{promised} {took}")
    stick.plug()
    check(f"{name}: ended early", run.end() == 1, run.said[-1500:])
    _, records = judged(name, run.out / "run.jsonl", 2, "log's disk was full")
    nothing_lost(name, records)
    stick.unmount()


def by_way_of_the_internal_disk(folder):
    name = "--work-dir"
    stick = Stick(folder, "exfat")
    stick.plug()
    work = folder / "internal" / "work"
    run = Run(folder, stick.mount / "FBR-2026-0142-1", 6, "200 ms", "--work-dir", str(work))
    run.until_said("RUNNING stage cpu-soak", 60)
    check(f"{name}: the log is written there", (work / "FBR-2026-0142-1" / "run.jsonl").exists(), list(work.rglob("*")))
    check(f"{name}: the run completes", run.end() == 0, run.said[-1500:])
    nothing_lost(name, judged(name, run.out / "run.jsonl", 0)[1])
    tidy(name, run.out)
    check(f"{name}: nothing remains on the internal disk", not (folder / "internal").exists())
    run = Run(folder, stick.mount / "FBR-2026-0142-2", 6, "200 ms", "--work-dir", str(work))
    run.until_said("RUNNING stage cpu-soak", 60)
    stick.pull()
    check(f"{name}: pulled at the end is exit status 74", run.end() == 74, run.said[-1500:])
    kept = work / "FBR-2026-0142-2"
    check(f"{name}: the log that could not be copied is named", f"It is whole in {kept}" in run.said, run.said[-800:])
    judged(f"{name}: not copied", kept / "run.jsonl", 0)
    check(f"{name}: the empty mount point stays empty", not list(stick.mount.iterdir()))
    stick.plug()
    check(f"{name}: the stick says where its log is", str(kept) in (run.out / "run.elsewhere").read_text())
    stick.unmount()


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--keep", action="store_true", help="leave the folder with the images")
    options.add_argument("--short", action="store_true", help="the four that differ most")
    options.add_argument("--only", help="a part of a check's name", default="")
    options = options.parse_args()
    missing = [tool for tool in TOOLS if not shutil.which(tool)]
    if missing or os.geteuid() != 0:
        print(f"stick: needs root and {', '.join(missing) or 'its tools, which are here'}")
        return 1
    trial.alone()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that mounts are cleared away then too
    began = time.monotonic()
    folder = pathlib.Path(tempfile.mkdtemp(prefix="loadwitness-stick-"))
    checks = [
        ("pulled ext4", lambda: pulled(folder, "ext4", False)),
        ("pulled exfat", lambda: pulled(folder, "exfat", True)),
        ("read-only", lambda: turned_read_only(folder)),
        ("filled ext4", lambda: filled(folder, "ext4")),
        ("filled exfat", lambda: filled(folder, "exfat")),
        ("never back", lambda: never_back(folder)),
        ("another stick", lambda: another_stick(folder)),
        ("after the end", lambda: back_after_the_end(folder)),
        ("work-dir", lambda: by_way_of_the_internal_disk(folder)),
        ("memory", lambda: memory_used_up(folder)),
    ]
    short = ["pulled exfat", "read-only", "filled ext4", "another stick"]
    try:
        for name, one in checks:
            if options.only in name and (name in short or not options.short):
                try:
                    one()
                except (RuntimeError, OSError, IndexError) as e:
                    check(name, False, f"{type(e).__name__}: {e}")
    finally:
        for run in Run.running:
            if run.process.poll() is None:
                run.process.kill()
                run.process.wait()
        for stick in Stick.made:
            stick.clear_away()
        if options.keep:
            print(f"kept: {folder}")
        else:
            shutil.rmtree(folder, ignore_errors=True)
    print(f"stick: {time.monotonic() - began:.0f} s")
    return trial.status()


if __name__ == "__main__":
    sys.exit(main())
