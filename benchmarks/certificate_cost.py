#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Measures what a report costs: its size with the log inside, and the processor time of `certify` after start-up.

The run is a simulated hour at one sample a second with 29 channels. Start-up is what the same program takes to print its
version, measured in turn with it; the difference is reading, judging, drawing and writing. Python 3.9 or later on Linux,
standard library only. Needs the build (mvn -DskipTests package: the log is made by a test class). Exit status: 0 measured,
whatever the figures are; 1 could not measure.

Options: --rounds N (default 5), --classpath PATH (in place of the jar and the test classes).
"""
import argparse
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parent.parent
JAR = TOP / "reporter/target/loadwitness-reporter.jar"
TEST_CLASSES = TOP / "reporter/target/test-classes"
WRITER = "dev.loadwitness.reporter.simulation.WriteHour"
MAIN = "dev.loadwitness.reporter.Main"
AIM_BYTES = 700_000
AIM_SECONDS = 2.0
# Only the quick one of Java's two compilers: a short program does not live long enough to repay the other.
FIRST_COMPILER = "-XX:TieredStopAtLevel=1"


def processor_seconds(*command, statuses=(0,)):
    process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = process.stderr.read().decode("utf-8", errors="replace")
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in statuses:
        sys.exit(f"{' '.join(command)} ended with {process.returncode}: {said}")
    return usage.ru_utime + usage.ru_stime


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--classpath", default=f"{JAR}:{TEST_CLASSES}")
    arguments = parser.parse_args()
    java = ["java", "-cp", arguments.classpath]
    with tempfile.TemporaryDirectory(prefix="certificate-cost-") as folder:
        folder = pathlib.Path(folder)
        processor_seconds(*java, WRITER, str(folder))
        log = folder / "run.jsonl"
        print("| what | figure | aim |")
        print("| --- | --- | --- |")
        print(f"| log | {log.stat().st_size / 1000:.0f} kB | |")
        report = folder / "report.pdf"
        for name, flags in [("as the jar runs", []), ("with " + FIRST_COMPILER, [FIRST_COMPILER])]:
            starts, reports = [], []
            for _ in range(arguments.rounds):
                report.unlink(missing_ok=True)
                starts.append(processor_seconds(*java, *flags, MAIN, "--version"))
                reports.append(processor_seconds(
                    *java, *flags, MAIN, "certify", str(log), "--out", str(report), "--unsigned"))
            start, whole = statistics.median(starts), statistics.median(reports)
            if not flags:
                size = report.stat().st_size
                print(f"| report, log inside | {size / 1000:.0f} kB | below {AIM_BYTES / 1000:.0f} kB:"
                      f" {'met' if size < AIM_BYTES else 'NOT met'} |")
            print(f"| start-up, {name}, processor time | {start:.2f} s | |")
            print(f"| certify after start-up, {name}, processor time (median of {arguments.rounds}) | {whole - start:.2f} s"
                  f" ({min(reports) - start:.2f} to {max(reports) - start:.2f}) | below {AIM_SECONDS:.0f} s:"
                  f" {'met' if whole - start < AIM_SECONDS else 'NOT met'} |")


if __name__ == "__main__":
    main()
