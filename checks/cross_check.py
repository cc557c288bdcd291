#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Computes figures of the sample runs once more, with SciPy, and compares them with what the reporter prints.

Shares no code with the reporter: it reads the logs' JSON lines itself. Needs the built reporter and Debian's python3-scipy; run it
with /usr/bin/python3. To add a check, write a function with @check: it is given the log and the findings by criterion, and
yields (what, by the reporter, by us, how far they may differ). Exit status 0 if all agree, else 1.
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile

import numpy
from scipy import stats

TOP = pathlib.Path(__file__).resolve().parent.parent
JAR = TOP / "reporter/target/loadwitness-reporter.jar"
RUNS = ("clean-pass", "still-rising", "regulated", "real-gpu-rails")
CRITERIA = """
  temperature-settled: {mandatory: no, rise: 1 K, within: 10 min, window: 20 min}
  temperature-ceiling: {mandatory: no, block: 60 s}
  energy-agrees: {mandatory: no}
  power-held: {mandatory: no}
"""
CHECKS = []


def check(function):
    CHECKS.append(function)
    return function


class Log:
    """One log as arrays: times and values of each channel, and the stages; first boot only."""

    def __init__(self, path):
        records = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
        self.procedure = records[0]["procedure"]["text"]
        self.channels = next(r["channels"] for r in records if r["type"] == "channels")
        samples = [r for r in records if r["type"] == "sample" and r["seg"] == 0]
        self.t = numpy.array([r["t"] / 1e9 for r in samples])
        self.values = numpy.array([[numpy.nan if v is None else v for v in r["v"]] for r in samples], dtype=float)
        self.stages = {}
        for r in records:
            if r["type"] == "event" and r["kind"] in ("stage-begin", "stage-end"):
                self.stages.setdefault(r["facts"]["stage"], []).append(r["t"] / 1e9)
        self.period = float(numpy.median(numpy.diff(self.t)))

    def channel(self, role, metric):
        for i, c in enumerate(self.channels):
            if (c["role"], c["metric"]) == (role, metric):
                return c, self.values[:, i]
        return None, None

    def soak(self):
        """The stage of the full load that lasts longest."""
        full = re.findall(r"id: ([\w-]+)\s+(?:#.*\s+)?loads: \[gpu-mix\]", self.procedure)
        return max((self.stages[s] for s in full if s in self.stages), key=lambda at: at[1] - at[0])


def blocks(log, values, begin, end, window, most=60):
    """Means over at most 60 equal pieces of the last part, made from bins of two samples or a second."""
    size = max(1.0, 2 * round(log.period, 3))
    inside = (log.t > begin) & (log.t <= end + 1e-9)
    index = ((log.t[inside] - begin) / size).astype(int)
    bins = index.max() + 1
    read = values[inside]
    means = numpy.array([numpy.mean(read[index == i]) if (index == i).any() else numpy.nan for i in range(bins)])
    settle = min(60, 0.1 * (end - begin))
    start = max(settle, bins * size - window)
    first, count = round(start / size), round((bins * size - start) / size)
    each = max(1, -(-count // most))
    at, out = [], []
    for i in range(first, first + count - each + 1, each):
        piece = means[i:i + each]
        if 2 * numpy.isfinite(piece).sum() >= each:
            at.append((i + each / 2) * size)
            out.append(numpy.nanmean(piece))
    return numpy.array(at), numpy.array(out), bins * size - start


@check
def slope_and_trend(log, findings, _):
    finding = findings["temperature-settled"]
    channel, values = log.channel("gpu-discrete", "hw.temperature")
    t, y, length = blocks(log, values, *log.soak(), 1200)
    n = len(y)
    line = stats.linregress(t, y)
    left = y - line.intercept - line.slope * t
    squares = (left ** 2).sum()
    r = (left[1:] * left[:-1]).sum() / squares if squares > 0 else 0
    r = min(0.99, max(0.0, r + (2 + 4 * r) / n))
    effective = max(3.0, n * (1 - r) / (1 + r))
    margin = stats.t.ppf(0.95, effective - 2) * line.stderr * numpy.sqrt(n / effective)
    upper = line.slope + margin + channel.get("resolution", 1) / length
    ours = re.search(r"([+-][\d.]+) K in 10 min", finding["measured"])
    yield "slope, K in 10 min", float(ours[1]), 600 * line.slope, 0.051
    # The bound is printed where it decided, else it follows from the expanded uncertainty (2u, u = (bound - slope)/1.645).
    printed = float(finding["uncertainty"].split()[0]) / 2 * stats.norm.ppf(0.95) + 600 * line.slope
    yield "upper 95 % bound, K in 10 min", printed, 600 * upper, 0.051
    beside = next(e["text"] for e in finding["evidence"] if "Theil-Sen" in e["text"])
    numbers = [float(x) for x in re.search(r"slope ([+-][\d.]+) K.*z = (-?[\d.]+), p = ([\d.]+)", beside).groups()]
    theirs = stats.theilslopes(y, t, 0.95)
    yield "Theil-Sen, K in 10 min", numbers[0], 600 * theirs[0], 0.051
    # SciPy takes whole ranks, the reporter what lies between them: a slope's distance from its neighbour in the middle, and the last digit.
    ends = [float(x) for x in re.search(r"\(([+-][\d.]+) K to ([+-][\d.]+) K with 95 %\)", beside).groups()]
    slopes = numpy.sort([(y[j] - y[i]) / (t[j] - t[i]) for i in range(n) for j in range(i + 1, n)])
    for what, told, end in (("lower", ends[0], theirs[2]), ("upper", ends[1], theirs[3])):
        at = numpy.searchsorted(slopes, end)
        near = slopes[max(0, at - 2):at + 3]
        yield f"Theil-Sen, {what} end, K in 10 min", told, 600 * end, 600 * (near.max() - near.min()) + 0.051
    _, ties = numpy.unique(y, return_counts=True)
    s = sum(numpy.sign(y[i + 1:] - y[i]).sum() for i in range(n))
    variance = (n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18
    z = (s - numpy.sign(s)) / numpy.sqrt(variance) if variance > 0 else 0
    yield "Mann-Kendall z", numbers[1], z, 0.051
    yield "Mann-Kendall p", numbers[2], 2 * stats.norm.sf(abs(z)), 0.00051


@check
def hottest_minute(log, findings, _):
    _, values = log.channel("gpu-discrete", "hw.temperature")
    minute = numpy.floor(log.t / 60)
    whole = [values[minute == m] for m in numpy.unique(minute)]
    whole = [w[numpy.isfinite(w)] for w in whole]
    best = max(numpy.mean(w) for w in whole if len(w) >= 0.8 * 60 / log.period)
    yield "hottest minute, Cel", float(findings["temperature-ceiling"]["measured"].split()[0]), best, 0.051


@check
def energy(log, findings, _):
    measured = findings["energy-agrees"]["measured"]
    if not measured:
        return
    _, joules = log.channel("gpu-discrete", "hw.energy")
    _, watts = log.channel("gpu-discrete", "hw.power")
    counted = added = 0.0
    proved = [s for s in re.findall(r"id: ([\w-]+)(?=(?:(?!id: )[\s\S])*?proves: gpu-discrete)", log.procedure)]
    for begin, end in (log.stages[s] for s in proved if s in log.stages):
        inside = (log.t > begin + 10) & (log.t <= end)
        counted += numpy.nansum(numpy.diff(joules[inside]))
        added += numpy.trapz(watts[inside], log.t[inside])
    yield "energy, added over counted, %", float(measured.split()[0]), 100 * (added / counted - 1), 0.1


@check
def time_between_failures(_, __, verdict):
    for said in verdict["demonstrated"]:
        found = re.search(r"In ([\d.]+) min under full load .* broke off (\d+) times?: .* at least (\d+) min", said)
        if found:
            minutes, failures, bound = float(found[1]), int(found[2]), float(found[3])
            ours = 2 * minutes / stats.chi2.ppf(0.95, 2 * failures + 2)
            # Both are printed rounded down to a minute.
            yield "mean time between breaks at least, min", bound, ours, 1.01


def judged(log, criteria):
    done = subprocess.run(["java", "-jar", str(JAR), "judge", "--json", "--criteria", str(criteria), str(log)],
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=60, check=False)
    if done.returncode not in (0, 1, 2):
        sys.exit(f"cross_check: judge ended with {done.returncode}\n{done.stderr.decode(errors='replace')}")
    return json.loads(done.stdout)


def main():
    if not JAR.exists():
        sys.exit(f"cross_check: {JAR} is not there; build the reporter first: mvn -pl runlog,reporter package")
    bad = compared = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in RUNS:
            path = TOP / "sample-runs" / name / "run.jsonl"
            log = Log(path)
            criteria = pathlib.Path(folder) / f"{name}.yaml"
            head = log.procedure[:log.procedure.index("\ncriteria:")]
            criteria.write_text(f"{head}\ncriteria:{CRITERIA}  evidence: {{mandatory: yes}}\n", encoding="utf-8")
            verdict = judged(path, criteria)
            findings = {f["criterion"]: f for f in verdict["findings"]}
            for function in CHECKS:
                for what, theirs, ours, tolerance in function(log, findings, verdict):
                    agrees = abs(theirs - ours) <= tolerance
                    compared += 1
                    bad += not agrees
                    print(f"{'ok    ' if agrees else 'DIFFERS'}  {name}: {what}: reporter {theirs:g}, SciPy {ours:.4f}")
    print(f"{compared} figures compared, {bad} differ")
    sys.exit(1 if bad or compared < 20 else 0)


if __name__ == "__main__":
    main()
