#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Makes the pictures of reports in this folder from sample runs, so that they never show what the program no longer prints.

Needs the build (mvn -DskipTests package), poppler's pdftoppm and ImageMagick's montage. The date of issue is fixed; the
same build gives the same pictures. Writes NAME.png: the customer's page beside the one with the charts.

Options: --classpath PATH (in place of the jar).
"""
import argparse
import os
import pathlib
import subprocess
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
HERE = pathlib.Path(__file__).resolve().parent
JAR = TOP / "reporter/target/loadwitness-reporter.jar"
ISSUED = "1795615400"  # 2026-11-25T14:03:20Z
RUNS = {
    "report-pass": ["three-attempts/3/run.jsonl", "--earlier", "three-attempts/1/run.jsonl", "--earlier",
                    "three-attempts/2/run.jsonl"],
    "report-fail": ["power-cut-restarted/run.jsonl"],
    "report-inconclusive": ["stuck-sensor/run.jsonl"],
    "report-heat": ["bad-contact/run.jsonl"],
}
# The recorded run carries no simulation's stamp; the sheet of the docs completes it, with that machine's own rating.
RECORDED = ["real-gpu-rails/run.jsonl", "--job"]
RATING = {"rated-graphics-power: 150 W # Corvid G7 150W": "rated-graphics-power: 700 W",
          "rated-power-origin: the maker's data sheet of the AW-17 Kestrel": "rated-power-origin: the limit that its driver enforces"}


def sheet(folder):
    text = (TOP / "docs/examples/job-sheet.yaml").read_text()
    for old, new in RATING.items():
        if old not in text:
            raise SystemExit(f"docs/examples/job-sheet.yaml no longer says {old!r}")
        text = text.replace(old, new)
    written = pathlib.Path(folder, "job-sheet.yaml")
    written.write_text(text)
    return str(written)


def page_with(report, words):
    pages = subprocess.run(["pdftotext", report, "-"], check=True, capture_output=True).stdout.decode().split("\f")
    return next(number for number, text in enumerate(pages, 1) if words in text)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--classpath", default=str(JAR))
    classpath = parser.parse_args().classpath
    environment = dict(os.environ, SOURCE_DATE_EPOCH=ISSUED)
    with tempfile.TemporaryDirectory(prefix="report-pictures-") as folder:
        for name, arguments in {**RUNS, "report-recorded": [*RECORDED, sheet(folder)]}.items():
            report = f"{folder}/{name}.pdf"
            runs = [str(TOP / "sample-runs" / a) if a.endswith(".jsonl") else a for a in arguments]
            status = subprocess.run(
                ["java", "-cp", classpath, "dev.loadwitness.reporter.Main", "certify", *runs, "--out", report,
                 "--unsigned", "--quiet"], stdout=subprocess.DEVNULL, env=environment).returncode
            if status not in (0, 1, 2):
                raise SystemExit(f"{name}: certify ended with {status}")
            pages = []
            for number in (1, page_with(report, "The course of the run")):
                picture = f"{folder}/{name}-{number}"
                subprocess.run(["pdftoppm", "-r", "80", "-png", "-singlefile", "-f", str(number), "-l", str(number), report,
                                picture], check=True)
                pages.append(picture + ".png")
            subprocess.run(["montage", *pages, "-tile", "2x1", "-geometry", "+6+6", "-background", "#d0d4d6", "-strip",
                            "-colors", "128", f"PNG8:{HERE / name}.png"], check=True)
            print(HERE / (name + ".png"))


if __name__ == "__main__":
    main()
