#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Computes decisions on the sample runs once more, with SciPy, and compares them with what the reporter says.

Shares no code with the reporter: it reads the logs' JSON lines itself. Limits are set close to what was measured, so that the
probabilities are neither 0 nor 1. Needs the built reporter and Debian's python3-scipy; run it with /usr/bin/python3.
Exit status 0 if all agree, else 1.
"""
import json
import math
import pathlib
import subprocess
import sys
import tempfile

import numpy
from scipy import stats

TOP = pathlib.Path(__file__).resolve().parent.parent
JAR = TOP / "reporter/target/loadwitness-reporter.jar"
RUNS = ("clean-pass", "still-rising", "real-gpu-rails")


def published():
    """Examples of the guides (JCGM 100 and 106, ILAC-G8): what the guide prints, what SciPy gives, half a last digit."""
    def welch(parts):
        u = math.sqrt(sum(s * s for s, _ in parts))
        return u, u ** 4 / sum(s ** 4 / v for s, v in parts)
    u, v = welch([(0.25, 9), (0.57, 4), (0.82, 14)])
    yield "GUM G.4.1: combined, %", 1.03, u, 0.005
    yield "GUM G.4.1: degrees of freedom", 19.0, v, 0.05
    u, v = welch([(25, 18), (9.7, 25.6), (2.9, 50), (16.6, 2)])
    yield "GUM H.1: combined, nm", 32, u, 0.5
    yield "GUM H.1: degrees of freedom", 16.7, v, 0.1
    for freedom, k in ((1, 13.97), (2, 4.53), (3, 3.31), (4, 2.87), (5, 2.65), (10, 2.28), (20, 2.13), (50, 2.05)):
        yield f"GUM table G.2, {freedom}", k, stats.t.ppf(stats.norm.cdf(2), freedom), 0.005
    yield "JCGM 106, Zener diode", 0.92, stats.norm.cdf((-5.40 + 5.47) / 0.05), 0.005
    yield "JCGM 106, container", 0.99, stats.norm.cdf((509.7 - 490) / 8.6), 0.005
    for name, r, risk in (("3 sigma", 1.5, 0.0016), ("w = U", 1, 0.025), ("ISO 14253-1", 0.83, 0.05)):
        yield f"ILAC-G8, {name}: risk below", risk, stats.norm.cdf(-2 * r), 0.0026


def read(path):
    records = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    channels = next(r["channels"] for r in records if r["type"] == "channels")
    samples = [r for r in records if r["type"] == "sample" and r["seg"] == 0]
    t = numpy.array([r["t"] / 1e9 for r in samples])
    values = numpy.array([[numpy.nan if v is None else v for v in r["v"]] for r in samples], dtype=float)
    by = {(c["role"], c["metric"]): (c, values[:, i]) for i, c in reversed(list(enumerate(channels)))}
    return records, t, by


def judge(log, criteria):
    done = subprocess.run(["java", "-jar", str(JAR), "judge", "--json", "--criteria", str(criteria), str(log)],
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=120, check=False)
    if done.returncode not in (0, 1, 2):
        sys.exit(f"cross_check_decision: judge ended with {done.returncode}\n{done.stderr.decode(errors='replace')}")
    return json.loads(done.stdout)


def table(finding):
    """Rows of the finding's budget: name to amount (its number) and degrees of freedom."""
    rows = next(t["rows"] for t in finding["tables"] if t["title"].startswith("Uncertainty of"))
    return {r[0]: (r[2], r[3]) for r in rows}


def decisions(name, folder):
    path = TOP / "sample-runs" / name / "run.jsonl"
    records, t, by = read(path)
    procedure = records[0]["procedure"]["text"]
    head = procedure[:procedure.index("\ncriteria:")]
    channel, celsius = by["gpu-discrete", "hw.temperature"]
    minutes = [celsius[numpy.floor(t / 60) == m] for m in numpy.unique(numpy.floor(t / 60))]
    period = float(numpy.median(numpy.diff(t)))
    minutes = [m[numpy.isfinite(m)] for m in minutes]
    hottest = max(m.mean() for m in minutes if len(m) >= 0.8 * 60 / period)
    slowdown = next((v for k, v in channel.get("limits", {}).items() if k == "throttled"), None)
    # A third of a kelvin of room, so that the probability is neither 0 nor 1.
    margin = 5 if slowdown is None else round(slowdown - hottest - 1 / 3, 2)
    criteria = pathlib.Path(folder) / f"{name}.yaml"
    criteria.write_text(f"{head}\ncriteria:\n  temperature-ceiling: {{mandatory: no, margin: {margin} K}}\n"
                        "  power-held: {mandatory: no, at-least: 97 %}\n"
                        "  clock-held: {mandatory: no, at-least: 99.6 %}\n  evidence: {mandatory: yes}\n", encoding="utf-8")
    found = {f["criterion"]: f for f in judge(path, criteria)["findings"]}
    ceiling = found["temperature-ceiling"]
    # The finding is of the sensor nearest to its own limit: with several it can be another than the chip's.
    same = ceiling["measured"] and abs(float(ceiling["measured"].split()[0]) - hottest) < 0.051
    if slowdown is not None and same:
        p = stats.norm.cdf((slowdown - margin - hottest) / (channel.get("resolution", 1) / math.sqrt(3)))
        yield "temperature-ceiling: probability", ceiling["conformity"], p, 1e-9
    for criterion, unit in (("power-held", 1), ("clock-held", 0.01)):
        finding = found[criterion]
        if finding["conformity"] is None:
            continue
        rows = table(finding)
        parts = [(float(amount.split()[0]), freedom) for row, (amount, freedom) in rows.items()
                 if row not in ("combined", "expanded", "guard band", "limit met", "decision wrong")]
        combined = math.sqrt(sum(u * u for u, _ in parts))
        told = float(rows["combined"][0].split()[0])
        yield f"{criterion}: combined", told, combined, 0.3 * told
        known = [(u, float(v)) for u, v in parts if v[0].isdigit()]
        freedom = combined ** 4 / sum(u ** 4 / v for u, v in known) if known else math.inf
        k = stats.t.ppf(stats.norm.cdf(2), freedom) if known else 2
        # From rounded parts: the tolerance is what rounding to one or two digits makes of it.
        yield f"{criterion}: expanded", float(rows["expanded"][0].split()[0]), k * combined, 0.35 * k * combined
        room = float(finding["margin"].split()[0])
        z = room / told
        # p within what half a last digit of value, limit and u allows.
        half = (0.05 if criterion == "clock-held" else 0.5) * 2 / told + abs(z) * 0.3
        cdf = (lambda x: stats.t.cdf(x, freedom)) if known else stats.norm.cdf
        middle = cdf(z)
        yield (f"{criterion}: probability", finding["conformity"], middle,
               max(abs(cdf(z + half) - middle), abs(cdf(z - half) - middle)) + 1e-3)


def main():
    if not JAR.exists():
        sys.exit(f"cross_check_decision: {JAR} is not there; build the reporter first: mvn -pl runlog,reporter package")
    bad = compared = 0
    with tempfile.TemporaryDirectory() as folder:
        sets = [("guides", published())] + [(name, decisions(name, folder)) for name in RUNS]
        for name, figures in sets:
            for what, theirs, ours, tolerance in figures:
                agrees = abs(theirs - ours) <= tolerance
                compared += 1
                bad += not agrees
                print(f"{'ok    ' if agrees else 'DIFFERS'}  {name}: {what}: stated {theirs:g}, SciPy {ours:.6g}")
    print(f"{compared} figures compared, {bad} differ")
    sys.exit(1 if bad or compared < 25 else 0)


if __name__ == "__main__":
    main()
