#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Measures the processor time of judging an hour after start-up: one sample a second, 29 channels, every criterion.

A program of its own (test class JudgeHour) judges the same log again and again in one Java machine: "first" is what a user waits
for after the machine has started, "warm" the median of 11 after 20 others. Of the whole process, so with Java's compilers and
collector, and of the judging thread alone. Python 3.9 or later on Linux, standard library only. Needs the build (mvn -DskipTests
package: the log is made by a test class). Exit status: 0 measured, whatever the figures are; 1 could not measure.

Options: --rounds N, Java machines for each line, of which the median is printed (default 5); --classpath PATH (in place of the jar
and the test classes).
"""
import argparse
import pathlib
import statistics
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parent.parent
CLASSES = f"{TOP / 'reporter/target/loadwitness-reporter.jar'}:{TOP / 'reporter/target/test-classes'}"
PACKAGE = "dev.loadwitness.reporter.simulation."
HEAP = "-Xmx128m"
FIRST_COMPILER = "-XX:TieredStopAtLevel=1"
AIM_SECONDS = 1.0


def run(*command):
    done = subprocess.run(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, check=False)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}: {done.stderr.decode(errors='replace')}")
    return done.stdout.decode()


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--classpath", default=CLASSES)
    arguments = parser.parse_args()
    java = ["java", HEAP, "-cp", arguments.classpath]
    with tempfile.TemporaryDirectory(prefix="judge-hour-") as folder:
        run(*java, PACKAGE + "WriteHour", folder, "every-criterion")
        log = pathlib.Path(folder) / "run.jsonl"
        print(f"log {log.stat().st_size / 1000:.0f} kB; seconds of processor time, medians of {arguments.rounds} Java machines")
        print("| Java | start-up | first judgement | its thread alone | warm judgement | its thread alone | aim: first below 1 s |")
        print("| --- | --- | --- | --- | --- | --- | --- |")
        for name, flags in (("as the jar runs", []), ("with " + FIRST_COMPILER, [FIRST_COMPILER])):
            lines = [run(*java, *flags, PACKAGE + "JudgeHour", str(log)).split() for _ in range(arguments.rounds)]
            figures = [statistics.median(float(line[i]) for line in lines) for i in range(2, 7)]
            met = "met" if figures[1] < AIM_SECONDS else "NOT met"
            print(f"| {name} | " + " | ".join(f"{f:.2f}" for f in figures) + f" | {met} |")
        print(f"verdict {lines[0][0]}, {lines[0][1]} criteria")


if __name__ == "__main__":
    main()
