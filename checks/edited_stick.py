#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""A run that broke off, whose stick somebody edited in each kind of way before 'resume' is called.

Whoever held the stick can make a chain that fits, so nothing here is found out by the chain alone. What must hold: no load without a
person who was shown what is there now; none above this program's own bounds; nothing of another machine, and nothing outside
the run's folder touched. The answers stand as a table in docs/interruptions.md. Run by ./check after the build, as root.
"""
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
import time

import trial
from trial import call, check

TOP = pathlib.Path(__file__).resolve().parent.parent
AGENT = ["java", "-XX:TieredStopAtLevel=1", "-jar", str(TOP / "agent/target/loadwitness-agent.jar")]
TICKET = "FBR-2026-0142"


def killed(folder):
    """A run whose procedure stops after an interruption, killed under load."""
    procedure = folder / "stops.yaml"
    procedure.write_text(trial.procedure("stops", "Broke off", [
        trial.stage("idle", "1 s", loaded=False), trial.stage("cpu-soak", "20 s")]) + "on-interruption: stop\n")
    out = folder / "pristine"
    process = subprocess.Popen([*AGENT, "run", "--procedure", str(procedure), "--ticket", TICKET, "--out", str(out)],
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    log, end = out / "run.jsonl", time.monotonic() + 60
    while time.monotonic() < end and process.poll() is None:
        if log.exists() and b'"stage-begin"' in log.read_bytes() and b"cpu-soak" in log.read_bytes().split(b'"stage-begin"')[-1]:
            break
        time.sleep(0.05)
    process.send_signal(signal.SIGKILL)
    process.wait()
    return out


def rewritten(out, edit):
    """The log with each record as `edit` gives it back, and a chain computed anew: no reader can tell."""
    previous, lines = "0" * 64, []
    for line in (out / "run.jsonl").read_bytes().splitlines():
        if not line.endswith(b'"}') or b'"chain":"' not in line:
            continue
        record = edit(json.loads(line))
        if record is None:
            continue
        record.pop("chain", None)
        record["n"] = len(lines)
        body = json.dumps(record, separators=(",", ":"), ensure_ascii=False)[:-1].encode()
        previous = hashlib.sha256(previous.encode() + body).hexdigest()
        lines.append(body + b',"chain":"' + previous.encode() + b'"}\n')
    (out / "run.jsonl").write_bytes(b"".join(lines))


def header_edit(change):
    def edit(record):
        if record["type"] == "header":
            change(record)
        return record
    return edit


def procedure_edit(old, new):
    """The procedure's text changed, with the digest that belongs to it."""
    def change(header):
        text = header["procedure"]["text"]
        assert old in text, text
        text = text.replace(old, new)
        header["procedure"].update(text=text, sha256=hashlib.sha256(text.encode()).hexdigest())
    return header_edit(change)


GO_ON = ("on-interruption: stop", "on-interruption: go-on")


def both(*edits):
    def edit(record):
        for one in edits:
            record = one(record)
        return record
    return edit


def resume(out, *more, folder=None):
    return call(*AGENT, "resume", str(out), *more, timeout=120, cwd=folder)


def loads(out):
    """How often a load began, in all files of the log."""
    return sum(file.read_bytes().count(b'"kind":"load-begin"') for file in out.glob("run*.jsonl"))


class Stick:
    def __init__(self, folder, pristine):
        self.folder, self.pristine, self.number = folder, pristine, 0

    def says_machine(self):
        header = json.loads((self.pristine / "run.jsonl").read_bytes().split(b"\n", 1)[0])
        return any(header["facts"].get("machine", {}).get(key) for key in ("make", "model", "serial", "board-serial"))

    def copy(self, edit=None):
        self.number += 1
        out = self.folder / f"edited{self.number}"
        shutil.copytree(self.pristine, out)
        if edit:
            rewritten(out, edit)
        return out


def no_load(name, stick, out, expected, *more):
    before, told = loads(out), resume(out, *more)
    said = told.stdout + told.stderr
    check(f"{name}: no load is put on", loads(out) == before, said)
    check(f"{name}: {expected}", re.search(expected, said, re.DOTALL), f"status {told.returncode}\n{said}")
    return told


def shown_and_agreed(name, stick, edit, shows, foreign_digest):
    """Shown as it is now; load neither by --attended alone nor by the digest of what it was before."""
    out = stick.copy(edit)
    told = no_load(name, stick, out, shows)
    digest = re.search(r"--as-shown ([0-9a-f]{64})", told.stdout)
    check(f"{name}: the log stays open for who agrees", told.returncode == 2 and digest, told.stdout)
    no_load(f"{name}, --attended alone", stick, out, "no load was put on", "--attended")
    no_load(f"{name}, the digest of something else", stick, out, "not what was shown under", "--attended", "--as-shown",
            foreign_digest)
    return digest.group(1) if digest else None


def of_the_procedure(stick):
    out = stick.copy()
    told = no_load("nothing edited", stick, out, "the procedure stops after an interruption")
    check("nothing edited: closed", told.returncode == 1, told.stdout)

    out = stick.copy(procedure_edit(*GO_ON))
    agreed = re.search(r"--as-shown ([0-9a-f]{64})", resume(out).stdout).group(1)
    digests = {agreed}
    for name, edit, shows in (
            ("ten hours", both(procedure_edit(*GO_ON), procedure_edit("duration: 20 s", "duration: 10 h")),
             r"on-interruption +go-on.*cpu-soak, 10 h, cpu.*in all +10 h"),
            ("ceilings within the bounds", both(procedure_edit(*GO_ON), procedure_edit("cpu: 105 Cel", "cpu: 110 Cel")),
             "cpu above 110 Cel"),
            ("the adapter's guard off", both(procedure_edit(*GO_ON), procedure_edit("adapter-lost: stop", "adapter-lost: go-on")),
             "NOT when the adapter is lost"),
            ("another ticket", both(procedure_edit(*GO_ON), header_edit(lambda h: h.update(ticket="FBR-2026-0999"))),
             r"ticket +FBR-2026-0999"),
            ("a ticket that steers a terminal", both(procedure_edit(*GO_ON), header_edit(lambda h: h.update(ticket="A\u202eB\u009bC"))),
             r"ticket +A\?B\?C"),
            ("a title that lies", both(procedure_edit(*GO_ON), procedure_edit("title: Broke off", "title: the same as quick-check")),
             "NOT one of the procedures that this program came with"),
            # No edit at all where firmware does not say what the machine is; TermsTest has that.
            ) + ((("the machine taken out", both(procedure_edit(*GO_ON), header_edit(lambda h: h["facts"].pop("machine"))),
                   "not told by the log; look yourself"),) if stick.says_machine() else ()):
        digests.add(shown_and_agreed(name, stick, edit, shows, agreed))
    check("each of them is another thing to agree to", len(digests - {None}) >= 7, digests)

    out = stick.copy(both(procedure_edit(*GO_ON), procedure_edit("cpu: 105 Cel", "cpu: 125 Cel")))
    told = no_load("a ceiling above the program's own", stick, out, r"stop-above is too high for cpu 125 Cel \(at most 110 Cel\)")
    check("a ceiling above the program's own: closed, whoever wrote it", told.returncode == 1, told.stdout)

    out = stick.copy(header_edit(lambda h: h["procedure"].update(text=h["procedure"]["text"].replace("stop", "go-on"))))
    told = no_load("a procedure that its digest does not fit", stick, out, ".")
    check("a procedure that its digest does not fit: not gone on with", told.returncode in (1, 65, 73), f"{told.returncode} {told.stdout}{told.stderr}")

    out = stick.copy()
    log = (out / "run.jsonl").read_bytes()
    (out / "run.jsonl").write_bytes(log.replace(b"on-interruption: stop", b"on-interruption: go-on", 1))
    told = no_load("edited without a new chain", stick, out, "the log was altered")
    check("edited without a new chain: closed", told.returncode == 1, told.stdout)

    def undone(record):  # as if no stage had ended yet
        return None if record["type"] == "event" and record["kind"] == "stage-end" else record
    shown_and_agreed("stages that ended made undone", stick, both(procedure_edit(*GO_ON), undone), r"stages left +idle, 1 s", agreed)


def of_the_machine(stick):
    told = call(*AGENT, "probe", "--json")
    here = json.loads(told.stdout).get("facts", {}).get("machine", {})
    if here.get("make"):
        out = stick.copy(both(procedure_edit(*GO_ON), header_edit(lambda h: h["facts"]["machine"].update(make="Alder Works"))))
        before = (out / "run.jsonl").read_bytes()
        told = no_load("the log of another machine", stick, out, "is of another machine")
        check("the log of another machine: refused, nothing written", told.returncode == 73
              and (out / "run.jsonl").read_bytes() == before, told.stderr)
    else:
        # Firmware here says nothing, as in many emulated machines: agent.resume.MachineTest compares.
        print("note    this machine's firmware does not say what it is; a log of another is not tried here")


def of_other_files(stick):
    outside = stick.folder / "outside"
    outside.mkdir()
    (outside / "precious.txt").write_text("not ours\n")

    out = stick.copy()
    (out / "run.part2.jsonl").write_text('{"type":"part"}\n')
    no_load("a further part that is none", stick, out, ".")

    out = stick.copy()
    (out / "run.part2.jsonl").symlink_to(outside / "precious.txt")
    no_load("a further part that is a link", stick, out, ".")

    out = stick.copy()
    (out / "run.reserve").unlink(missing_ok=True)
    (out / "run.reserve").symlink_to(outside / "precious.txt")
    no_load("a reserve that is a link", stick, out, ".")

    out = stick.copy()
    (out / "run.lock").unlink(missing_ok=True)
    (out / "run.lock").symlink_to(outside / "made-through-the-lock")
    no_load("a lock that is a link", stick, out, ".")

    out = stick.copy()
    (out / "run.jsonl").unlink()
    (out / "run.elsewhere").write_text(f"The log of this run is written in {outside}\n")
    told = no_load("a note that sends to another folder", stick, out, ".")
    check("a note that sends to another folder is not believed", told.returncode >= 64, f"{told.returncode} {told.stdout}")

    journal = stick.folder / "loadwitness-journal.jsonl"
    for name, content in (("garbage in the journal", "{{{\n" * 3), ("a journal that is a link", None)):
        out = stick.copy()
        journal.unlink(missing_ok=True)
        if content:
            journal.write_text(content)
        else:
            journal.symlink_to(outside / "precious.txt")
        told = no_load(name, stick, out, ".")
        check(f"{name}: the run is closed all the same, or the reason is said", told.returncode in (1, 73, 74, 77),
              f"{told.returncode} {told.stdout}{told.stderr}")
    check("nothing outside the run's folder was touched", sorted(os.listdir(outside)) == ["precious.txt"]
          and (outside / "precious.txt").read_text() == "not ours\n", os.listdir(outside))


def main():
    trial.alone()
    with tempfile.TemporaryDirectory(prefix="loadwitness-edited-") as name:
        folder = pathlib.Path(name)
        stick = Stick(folder, killed(folder))
        of_the_procedure(stick)
        of_the_machine(stick)
        of_other_files(stick)
    return trial.status()


if __name__ == "__main__":
    sys.exit(main())
