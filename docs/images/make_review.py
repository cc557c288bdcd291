#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Makes the pictures of the review page from sample runs, in a headless Chromium (Debian: chromium, chromium-driver).

Usage: docs/images/make_review.py [--only NAME]          after: mvn package, or ./soak once
"""
import argparse
import base64
import json
import pathlib
import subprocess
import sys
import tempfile
import time
import urllib.request

HERE = pathlib.Path(__file__).resolve().parent
TOP = HERE.parent.parent
REPORTER = ["java", "-jar", str(TOP / "reporter/target/loadwitness-reporter.jar")]
RUNS = TOP / "sample-runs"
PICTURES = {
    # name: runs, dark, width, height, script to run before the picture is taken
    "review-fail": (["power-cut-restarted"], False, 1600, 1180, ""),
    "review-dark": (["bad-contact"], True, 1600, 1180,
                    "document.querySelector('.moments .fault .jump').click()"),
    "review-two": (["clean-pass", "bad-contact"], False, 1600, 1180, ""),
}


class Browser:
    """As much of W3C WebDriver as a picture needs."""

    def __init__(self, folder):
        self.driver = subprocess.Popen(["chromedriver", "--port=0"], stdout=subprocess.PIPE, text=True)
        for line in self.driver.stdout:
            if "started successfully on port" in line:
                self.base = "http://127.0.0.1:" + line.rstrip().rstrip(".").rsplit(" ", 1)[1]
                break
        arguments = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                     "--disable-background-networking", "--disable-component-update", "--disable-sync",
                     "--hide-scrollbars", f"--user-data-dir={folder}/profile"]
        options = {"args": arguments}
        made = self.ask("POST", "/session", {"capabilities": {"alwaysMatch": {
            "browserName": "chrome", "goog:chromeOptions": options}}})
        self.base += "/session/" + made["sessionId"]

    def ask(self, method, path, body=None):
        request = urllib.request.Request(self.base + path, method=method, headers={"Content-Type": "application/json"},
                                         data=None if body is None else json.dumps(body).encode())
        with urllib.request.urlopen(request, timeout=120) as answer:
            return json.load(answer)["value"]

    def script(self, text):
        return self.ask("POST", "/execute/sync", {"script": text, "args": []})

    def cdp(self, command, **params):
        return self.ask("POST", "/goog/cdp/execute", {"cmd": command, "params": params})

    def picture(self, page, target, dark, width, height, script, media="screen"):
        self.cdp("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.cdp("Emulation.setEmulatedMedia", media=media,
                 features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])
        self.ask("POST", "/url", {"url": page.as_uri()})
        until = time.monotonic() + 60
        while self.script("return document.body.dataset.ready || ''") == "" and time.monotonic() < until:
            time.sleep(0.1)
        if script:
            self.script(script)
            time.sleep(0.6)
        target.write_bytes(base64.b64decode(self.ask("GET", "/screenshot")))

    def close(self):
        try:
            self.ask("DELETE", "")
        finally:
            self.driver.terminate()
            self.driver.wait()


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", help="one of " + ", ".join(PICTURES))
    wanted = parser.parse_args().only
    with tempfile.TemporaryDirectory() as folder:
        browser = Browser(folder)
        try:
            for name, (runs, dark, width, height, script) in PICTURES.items():
                if wanted in (None, name):
                    page = pathlib.Path(folder) / f"{name}.html"
                    done = subprocess.run([*REPORTER, "review", *[str(RUNS / r / "run.jsonl") for r in runs],
                                           "--out", str(page), "--quiet"], check=False)
                    if done.returncode > 2:
                        return done.returncode
                    browser.picture(page, HERE / f"{name}.png", dark, width, height, script)
                    print(HERE / f"{name}.png")
        finally:
            browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
