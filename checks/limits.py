#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Logs that list more than any machine does, through every command that reads one, within the heap that docs/run-log.md states.

Each either comes to a verdict, printed, or is refused with a sentence and a status above 63; never is it an error of Java's.

Usage: checks/limits.py [--short] [--jar FILE] [--heap MB] [--only NAME]
"""
import argparse
import datetime
import hashlib
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
START = datetime.datetime(2026, 11, 25, 14)
UTC = f"{START:%Y-%m-%dT%H:%M:%S}.000Z"
PROCEDURE = """format: loadwitness-procedure/1
name: hostile
title: More than any machine has
sampling: 100 ms
stages:
  - {id: idle, duration: 10 s}
  - {id: soak, duration: 1 h, loads: [gpu-mix], gpu: gpu-discrete, proves: gpu-discrete}
safety: {stop-above: {cpu: 105 Cel, gpu-discrete: 92 Cel, battery: 45 Cel}, silent-after: 10 s, adapter-lost: stop, unguarded: allow}
decision: {rule: guarded, guard-factor: 1}
criteria:
  evidence: {mandatory: yes}
  interruptions: {mandatory: yes}
  temperature-ceiling: {mandatory: yes}
  temperature-settled: {mandatory: yes}
  throttle: {mandatory: yes}
  soak-duration: {mandatory: yes, at-least: 1 h}
  fans: {mandatory: yes}
"""


class Log:
    """Writes a log whose chain fits, as a careful forger would."""

    def __init__(self, path, earlier=0):
        self.file = open(path, "wb", buffering=1 << 20)
        self.n = 0
        self.chain = b"0" * 64
        self.seconds = 0.0
        self.seg = -1
        text = PROCEDURE
        attempts = [{"run": f"{i:032x}", "chain": "0" * 64, "end": "open"} for i in range(earlier)]
        self.add("header", format="loadwitness-run/1.0", run="a" * 32, utc=UTC, ticket="FBR-2026-0142", nonce="",
                 earlier=attempts, simulated=True, facts={}, withheld=[], agent="limits.py",
                 procedure={"name": "hostile.yaml", "text": text, "sha256": hashlib.sha256(text.encode()).hexdigest()},
                 undurableSeconds=1)

    def add(self, kind, /, **members):
        body = json.dumps({"n": self.n, "type": kind, **members}, separators=(",", ":"), ensure_ascii=False)
        self.line(body[:-1].encode())

    def line(self, before):
        self.chain = hashlib.sha256(self.chain + before).hexdigest().encode()
        self.file.write(before + b',"chain":"' + self.chain + b'"}\n')
        self.n += 1

    def boot(self):
        self.seg += 1
        self.seconds = 0.0
        self.add("boot", seg=self.seg, t=0, utc=UTC, bootId=f"boot-{self.seg}", utcTrusted=True)

    def table(self, channels):
        self.add("channels", seg=self.seg, t=int(self.seconds * 1e9), channels=channels)

    def event(self, kind, /, **facts):
        self.add("event", seg=self.seg, t=int(self.seconds * 1e9), utc=UTC, kind=kind, facts=facts)

    def sample(self, values, utc=UTC):
        self.line(f'{{"n":{self.n},"type":"sample","seg":{self.seg},"t":{int(self.seconds * 1e9)},"utc":"{utc}","v":[{values}]'
                  .encode())

    def close(self):
        self.add("close", seg=self.seg, t=int(self.seconds * 1e9), utc=UTC, reason="completed", detail="", samples=0, events=0)
        self.file.close()


def channel(number, metric="hw.temperature", unit="Cel", role="gpu-discrete", kind="gauge", **more):
    return {"id": f"c{number}", "metric": metric, "unit": unit, "kind": kind, "role": role, "component": more.pop("component", ""),
            "label": more.pop("label", ""), "source": "x", "limits": {}, **more}


def mixed(count):
    """Of each sort that something is kept for."""
    sorts = [("hw.temperature", "Cel", "gpu-discrete", "gauge", {}), ("hw.fan.speed", "rpm", "fan", "gauge", {}),
             ("lw.throttle.active", "1", "gpu-discrete", "gauge", {"cause": "heat"}), ("hw.power", "W", "cpu", "gauge", {})]
    return [channel(i, *sorts[i % len(sorts)][:4], component=f"d{i}", **sorts[i % len(sorts)][4]) for i in range(count)]


def begun(path, channels, **header):
    log = Log(path, **header)
    log.boot()
    log.table(channels)
    return log


def samples(log, count, width, step=1.0):
    rows = [",".join(str(40 + (i * 7 + k * 3) % 50) for i in range(width)) for k in range(7)]
    for k in range(count):
        log.seconds += step
        log.sample(rows[k % 7])


def many_events(path, count):
    log = begun(path, mixed(4))
    log.event("stage-begin", stage="soak", seconds=3600)
    for i in range(count):
        log.seconds += 0.01
        log.event("kernel-message", text=f"message {i} of many: something happened that a kernel tells at length", fault="other")
        if i % 100 == 0:
            log.sample("60,2000,0,45")
    log.event("stage-end", stage="soak", why="completed")
    log.close()


def long_events(path, count):
    log = begun(path, mixed(4))
    for i in range(count):
        log.seconds += 0.01
        log.event("operator-note", **{f"text{k}": "ä" * 9_000 for k in range(50)})
    log.close()


def many_tables(path, count):
    log = begun(path, mixed(4))
    log.event("stage-begin", stage="soak", seconds=3600)
    for _ in range(count - 1):
        samples(log, 3, 4)
        log.table(mixed(4))
    log.close()


def many_channels(path, count, rows):
    log = begun(path, mixed(count))
    log.event("stage-begin", stage="soak", seconds=3600)
    samples(log, rows, count)
    log.event("stage-end", stage="soak", why="completed")
    log.close()


def strange_tables(path, tables, each):
    """Ever new channels in ever new tables."""
    log = Log(path)
    log.boot()
    for i in range(tables):
        log.table([channel(i * each + k, label="l" * 500) for k in range(each)])
        samples(log, 2, each)
    log.close()


def long_labels(path, count):
    log = Log(path)
    log.boot()
    for _ in range(count):
        log.table([channel(0, label="ä" * 500_000)])
        samples(log, 2, 1)
    log.close()


def many_stages(path, count, width):
    log = begun(path, mixed(width))
    for _ in range(count):
        log.event("stage-begin", stage="soak", seconds=10)
        samples(log, 12, width)
        log.event("stage-end", stage="soak", why="completed")
    log.close()


def many_boots(path, count, width):
    log = Log(path)
    for _ in range(count):
        log.boot()
        log.table(mixed(width))
        samples(log, 61, width)
    log.file.close()


def many_hours(path, count):
    """A stage of years, a sample every ten seconds, the machine throttling on and off."""
    log = begun(path, mixed(8))
    log.event("stage-begin", stage="soak", seconds=3600)
    for k in range(count):
        log.seconds += 10
        now = START + datetime.timedelta(seconds=log.seconds)
        log.sample("71,2400,%d,45,72,2300,%d,44" % (k % 2, (k // 3) % 2), f"{now:%Y-%m-%dT%H:%M:%S}.000Z")
    log.event("stage-end", stage="soak", why="completed")
    log.close()


def many_attempts(path, count):
    log = begun(path, mixed(4), earlier=count)
    samples(log, 20, 4)
    log.close()


def clock_steps(path, count):
    log = begun(path, mixed(4))
    for k in range(count):
        log.seconds += 1
        log.sample("1,2,3,4", f"2026-11-25T14:{k % 60:02d}:00.000Z")
    log.close()


# name: how it is written; what judge and certify say, what review says ("" a verdict, else part of the refusal); in --short.
CASES = {
    "a million events": (lambda p: many_events(p, 1_000_000), "", "", False),
    "twenty thousand events": (lambda p: many_events(p, 20_000), "", "", True),
    "events of 450,000 letters each": (lambda p: long_events(p, 300), "", "", False),
    "20,000 channel tables": (lambda p: many_tables(p, 20_000), "more than 50000 channels in all", None, True),
    "12,500 channel tables": (lambda p: many_tables(p, 12_500), "", "", False),
    "5,500 channels": (lambda p: many_channels(p, 4_000, 10), "more than 1000 channels", None, True),
    "1,000 channels, 3,000 samples": (lambda p: many_channels(p, 1_000, 3_000), "", "", False),
    "1,000 channels, 40,000 samples": (lambda p: many_channels(p, 1_000, 40_000), "more than 96 MiB", None, False),
    "ever new channels": (lambda p: strange_tables(p, 200, 20), "more than 1000 channels", None, False),
    "labels of 500,000 letters in 200 tables": (lambda p: long_labels(p, 200), "more than 96 MiB", None, False),
    "500 stages of 60 channels": (lambda p: many_stages(p, 500, 60), "", "", False),
    "500 stages of 400 channels": (lambda p: many_stages(p, 500, 400), "more than 96 MiB", None, False),
    "501 stages": (lambda p: many_stages(p, 501, 4), "more than 500 stages begun", None, False),
    "500 boots of 100 channels": (lambda p: many_boots(p, 500, 100), "", "", False),
    "501 boots": (lambda p: many_boots(p, 501, 4), "more than 500 boots", None, True),
    "four years in one stage": (lambda p: many_hours(p, 1_200_000), "", "", False),
    "1,001 earlier attempts": (lambda p: many_attempts(p, 1_001), "more than 1000 earlier attempts", None, False),
    "1,000 earlier attempts": (lambda p: many_attempts(p, 1_000), "", "", False),
    "20,000 steps of the clock": (lambda p: clock_steps(p, 20_000), "", "more than a page can show", False),
}


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--short", action="store_true", help="what is quick, for ./check")
    options.add_argument("--jar", default=str(TOP / "reporter/target/loadwitness-reporter.jar"))
    options.add_argument("--classpath", help="instead of --jar")
    options.add_argument("--heap", type=int, default=512, help="MB (default: 512)")
    options.add_argument("--only", default="", help="cases whose name holds this")
    given = options.parse_args()
    java = ["java", f"-Xmx{given.heap}m", "-XX:+UseSerialGC", "-XX:TieredStopAtLevel=1"]
    java += ["-cp", given.classpath, "dev.loadwitness.reporter.Main"] if given.classpath else ["-jar", given.jar]
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        for name, (write, refused, page, short) in CASES.items():
            if (given.short and not short) or given.only not in name:
                continue
            log = Path(folder) / "run.jsonl"
            write(log)
            size = log.stat().st_size
            digest = hashlib.sha256(log.read_bytes()).hexdigest()
            for number, (command, expected) in enumerate((
                    (["judge", str(log), "--json"], refused),
                    (["certify", str(log), "--unsigned", "--out", f"{folder}/report.pdf"], refused),
                    (["review", str(log), "--out", f"{folder}/page.html"], refused if page is None else page),
                    (["verify", f"{folder}/report.pdf"], "") if not refused else (["verify", str(log)], refused))):
                if given.short and refused and number:
                    break
                begin = time.monotonic()
                try:
                    done = subprocess.run(java + command, capture_output=True, text=True, timeout=300)
                    status, out, err = done.returncode, done.stdout, done.stderr
                except subprocess.TimeoutExpired:
                    status, out, err = -1, "", "took more than 300 s"
                seconds = time.monotonic() - begin
                if expected:
                    right = status > 63 and status != 70 and expected in err and not out.strip()
                else:
                    right = status in (0, 1, 2) and out.strip() and "Exception" not in err and "Error" not in err
                wrong += not right
                print(f"{'ok   ' if right else 'WRONG'} {name} ({size >> 10} KiB): {command[0]} {status}, {seconds:.1f} s"
                      + ("" if right and not expected else f": {(err.strip().splitlines() or [''])[0][-160:]}"), flush=True)
            if hashlib.sha256(log.read_bytes()).hexdigest() != digest:
                wrong += 1
                print(f"WRONG {name}: the log was changed")
            for made in Path(folder).iterdir():
                made.unlink()
    print(f"{wrong} wrong, heap {given.heap} MB")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
