#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Prints what a recorded run on a real GPU shows: work rate, power, and counters beside samples, stage by stage.

Python 3.9 or later, standard library only. Without an argument: sample-runs/real-gpu-rails/run.jsonl. Exit status: 0
printed, 1 no such figures in that log.
"""
import argparse
import json
import pathlib
import statistics
import sys

TOP = pathlib.Path(__file__).resolve().parent.parent
GPU = "gpu-discrete"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("log", nargs="?", type=pathlib.Path, default=TOP / "sample-runs/real-gpu-rails/run.jsonl")
    log = parser.parse_args().log
    records = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    channels = next(r for r in records if r["type"] == "channels")["channels"]
    place = {c["id"]: i for i, c in enumerate(channels)}
    if f"{GPU}.work.verified" not in place:
        print(f"{log} has no verified work of {GPU}", file=sys.stderr)
        return 1
    begins, peak = {}, None
    print(f"{'stage':<12} {'seconds':>8} {'median W':>9} {'units/s':>10}  at the power cap: counter s, flag")
    for r in records:
        if r["type"] != "event":
            continue
        facts = r["facts"]
        peak = facts.get("peakGflops", peak)
        if r["kind"] == "stage-begin":
            begins[facts["stage"]] = r["t"]
        elif r["kind"] == "stage-end":
            row(facts["stage"], begins[facts["stage"]], r["t"], records, place)
    print(f"A unit of gpu-core is 1 GFLOP (docs/loads.md); the part's peak is {peak} GFLOP/s by OpenCL's own figures.")
    return 0


def row(stage, begin, end, records, place):
    samples = [r for r in records if r["type"] == "sample" and begin <= r["t"] <= end]

    def known(channel):
        index = place.get(f"{GPU}.{channel}")
        return [] if index is None else [(s["t"] / 1e9, s["v"][index]) for s in samples if s["v"][index] is not None]

    def growth(values):
        return values[-1][1] - values[0][1] if len(values) > 1 else float("nan")

    power, work = known("power"), known("work.verified")[1:]
    counter, flag = known("throttle.power-cap.time"), known("throttle.power-cap.active")
    rate = growth(work) / (work[-1][0] - work[0][0]) if len(work) > 1 else 0.0
    share = statistics.mean(v for _, v in flag) if flag else float("nan")
    print(f"{stage:<12} {(end - begin) / 1e9:8.1f} {statistics.median(v for _, v in power):9.1f} {rate:10.0f}"
          f"  {growth(counter):8.1f} {100 * share:5.1f} %")


if __name__ == "__main__":
    sys.exit(main())
