#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Measures how fast, and in how much memory, `judge` reads a long log: 72 hours, 24 channels, 10 Hz.

The yardstick is a bare JSON token scan with SHA-256 over the same file (TokenScan.java), interleaved with it in the
same run. Python 3.9 or later on Linux, standard library only. Needs the build (mvn -DskipTests package: the log is made
by a test class) and some 800 MB of disk for 72 hours, which it gives back. Exit status: 0 measured, whatever the
figures are; 1 could not measure.
"""
import argparse
import os
import pathlib
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time

TOP = pathlib.Path(__file__).resolve().parent.parent
JAR = TOP / "reporter/target/loadwitness-reporter.jar"
TEST_CLASSES = TOP / "reporter/target/test-classes"
WRITER = "dev.loadwitness.reporter.simulation.WriteLongRun"
SCAN = TOP / "benchmarks/TokenScan.java"
HEAP = "-Xmx128m"
ROUNDS = 3
AIM_RATIO = 0.5
BYTES_AN_HOUR = 11.5e6  # of that log, rounded up; only to see beforehand whether the disk has room
VERDICTS = {0: "pass", 1: "fail", 2: "inconclusive"}


class CannotMeasure(Exception):
    """Why there is no figure."""


def call(*command):
    """((seconds, processor seconds), peak resident bytes, status, output) of a command."""
    with tempfile.TemporaryFile() as out:
        begin = time.monotonic()
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=out, stderr=subprocess.STDOUT)
        try:
            _, status, usage = os.wait4(process.pid, 0)
        except BaseException:
            process.kill()
            process.wait()
            raise
        seconds = (time.monotonic() - begin, usage.ru_utime + usage.ru_stime)
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        words = out.read().decode("utf-8", errors="replace")
    return seconds, usage.ru_maxrss * 1024, process.returncode, words


def write_log(folder, hours):
    need = hours * BYTES_AN_HOUR
    free = shutil.disk_usage(folder).free
    if free < need * 1.1:
        raise CannotMeasure(
            f"{hours:g} hours need some {need / 1e6:.0f} MB in {folder.parent}, {free / 1e6:.0f} MB are free;"
            " choose another place with --dir, or fewer --hours"
        )
    print(f"Writing {hours:g} hours of 24 channels at 10 Hz, some {need / 1e6:.0f} MB of disk, deleted afterwards", flush=True)
    seconds, _, status, words = call(
        "java", "-cp", os.pathsep.join((str(TEST_CLASSES), str(JAR))), WRITER, str(folder), str(round(hours * 3600)), "100"
    )
    log = folder / "run.jsonl"
    if status != 0 or not log.is_file():
        raise CannotMeasure(f"the log could not be written (status {status}):\n{words[-2000:]}")
    if list(folder.glob("run.*.jsonl")):
        raise CannotMeasure("the log was written in more than one part; is the disk failing?")
    size = log.stat().st_size
    print(f"  {size / 1e6:.1f} MB, written in {seconds[0]:.0f} s", flush=True)
    return log, size


def judge(log):
    seconds, peak, status, words = call("java", HEAP, "-jar", str(JAR), "judge", str(log))
    if status not in VERDICTS:
        raise CannotMeasure(f"judge ended with status {status}:\n{words[-2000:]}")
    return seconds, peak, VERDICTS[status]


def scan(log):
    _, _, status, words = call("java", HEAP, "-cp", str(JAR), str(SCAN), str(log))
    if status != 0:
        raise CannotMeasure(f"the token scan ended with status {status}:\n{words[-2000:]}")
    return tuple(float(word) for word in words.split()[:2])


def measure(log, size):
    judged, scanned, peaks = [], [], []
    starts = [call("java", HEAP, "-jar", str(JAR), "judge", "--help")[0] for _ in range(ROUNDS)]
    for number in range(1, ROUNDS + 1):
        seconds, peak, verdict = judge(log)
        judged.append(seconds)
        peaks.append(peak)
        scanned.append(scan(log))
        print(
            f"  round {number}: judge {seconds[0]:6.2f} s, {seconds[1]:6.2f} s of processor, peak RSS {peak / 2**20:6.1f} MiB, verdict"
            f" {verdict};   token scan + SHA-256 {scanned[-1][0]:6.2f} s, {scanned[-1][1]:6.2f} s of processor",
            flush=True,
        )
    for index, what in enumerate(("time", "processor time")):
        ours, yardstick, start = (statistics.median(row[index] for row in rows) for rows in (judged, scanned, starts))
        ratio = yardstick / (ours - start)
        print(f"{what}, median of {ROUNDS}: judge {ours:.2f} s, of it {start:.2f} s to start (judge --help); token scan {yardstick:.2f} s,"
              f" its start left out; ratio of the throughputs without the starts {ratio:.2f}" + (f", aim > {AIM_RATIO}: {'met' if ratio > AIM_RATIO else 'NOT met'}" if index == 0 else ""))
    print(f"peak resident memory of judge: {max(peaks) / 2**20:.1f} MiB, with {HEAP}")


def main():
    parser = argparse.ArgumentParser(description="Measure the speed and memory of judge on a long log.")
    parser.add_argument("--hours", type=float, default=72, help="length of the log (default 72); a short one shows mostly the JVM's start")
    parser.add_argument("--dir", help="where the log lies while measuring (default: the system's temporary folder)")
    options = parser.parse_args()
    if not 0.01 <= options.hours <= 1000:
        parser.error("--hours must be from 0.01 to 1000")
    # So that a termination, too, deletes the log.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda received, _: sys.exit(128 + received))
    try:
        writer = TEST_CLASSES.joinpath(*WRITER.split(".")).with_suffix(".class")
        for needed in (JAR, writer):
            if not needed.is_file():
                raise CannotMeasure(f"{needed.relative_to(TOP)} is missing; build it first: mvn -DskipTests package")
        for tool in ("java", "javac"):  # the yardstick is compiled as it starts, which takes a JDK
            if shutil.which(tool) is None:
                raise CannotMeasure(f"no {tool} found; install a JDK of version 17 or newer")
        with tempfile.TemporaryDirectory(prefix="loadwitness-judge-", dir=options.dir) as folder:
            measure(*write_log(pathlib.Path(folder), options.hours))
    except (CannotMeasure, OSError) as problem:
        print(f"judge_long_log: could not measure: {problem}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
