#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""A run that is killed and taken up again, as a user has it: the jars, real processes, a real disk that is full.

Run by ./check after the build. Needs root (a small tmpfs is mounted); without it that check fails, it is not skipped.
"""
import json
import os
import pathlib
import pty
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
REPORTER = ["java", "-jar", str(TOP / "reporter/target/loadwitness-reporter.jar")]
TICKET = "FBR-2026-0142"


def procedure(folder, on_interruption, seconds=4):
    text = trial.procedure("resume", "Some seconds of load that break off",
                           [trial.stage("idle", "1 s", loaded=False), trial.stage("cpu-soak", f"{seconds} s"),
                            trial.stage("cool-down", "1 s", loaded=False)])
    file = folder / f"{on_interruption}-{seconds}.yaml"
    file.write_text(text + f"on-interruption: {on_interruption}\n")
    return str(file)


def killed(folder, name, on_interruption, seconds=4, until=rb'"stage-begin".*"cpu-soak"'):
    """A run that is killed as soon as its log says so."""
    out = folder / name
    process = subprocess.Popen([*AGENT, "run", "--procedure", procedure(folder, on_interruption, seconds), "--ticket",
                                TICKET, "--out", str(out)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    log, end = out / "run.jsonl", time.monotonic() + 60
    while time.monotonic() < end and process.poll() is None:
        if log.exists() and re.search(until, log.read_bytes()):
            break
        time.sleep(0.05)
    process.send_signal(signal.SIGKILL)
    process.wait()
    return out


def resume(out, *more):
    return call(*AGENT, "resume", str(out), *more)


def agreed(out):
    """As a script does it whose user has seen what the run goes on with: by the digest of that."""
    shown = resume(out)
    digest = re.search(r"--attended --as-shown ([0-9a-f]{64})", shown.stdout)
    return resume(out, "--attended", "--as-shown", digest.group(1)) if digest else shown


def records(out):
    """All that can be read; a torn tail is not."""
    lines = (out / "run.jsonl").read_bytes().splitlines()
    return [json.loads(line) for line in lines if line.endswith(b'"}') and b'"chain":"' in line]


def stages(out, kind="stage-begin"):
    return [r["facts"]["stage"] for r in records(out) if r["type"] == "event" and r["kind"] == kind]


def judge(out):
    told = call(*REPORTER, "judge", "--json", str(out / "run.jsonl"))
    try:
        return told.returncode, json.loads(told.stdout)
    except ValueError:
        return told.returncode, {"sentence": told.stdout + told.stderr}


def is_whole(out):
    read = call("python3", str(TOP / "docs/examples/read_run.py"), "--json", str(out / "run.jsonl"))
    summary = json.loads(read.stdout)
    return all(d["kind"] == "torn-tail" for d in summary["damages"]) and summary["closed"], summary


def goes_on(folder):
    out = killed(folder, "go-on", "go-on")
    with (out / "run.jsonl").open("ab") as log:
        log.write(b'{"n":77,"type":"sam')  # what a power cut would leave
    told = agreed(out)
    check("a run goes on and is completed", told.returncode == 0, told.stdout + told.stderr)
    check("stages that ended are not repeated, the one that broke off begins anew",
          stages(out) == ["idle", "cpu-soak", "cpu-soak", "cool-down"], stages(out))
    all_records = records(out)
    boots = [r for r in all_records if r["type"] == "boot"]
    check("the second segment declares the torn tail", len(boots) == 3 and boots[1]["seg"] == 1
          and boots[1]["torn"]["length"] == 19, boots)
    after = all_records[all_records.index(boots[1]) + 1]
    check("evidence follows the boot record at once", after["type"] == "boot-evidence"
          and after["facts"].get("same-boot") == "yes", after)
    close = all_records[-1]
    count = {kind: sum(r["type"] == kind for r in all_records) for kind in ("sample", "event")}
    check("the close counts the whole log", close["type"] == "close" and close["reason"] == "completed"
          and (close["samples"], close["events"]) == (count["sample"], count["event"]), f"{close} {count}")
    whole, summary = is_whole(out)
    check("a second reader finds the log whole and closed", whole, summary)
    status, verdict = judge(out)
    check("the judge reads it, and an interruption is no pass", status in (1, 2) and "defect" not in json.dumps(verdict),
          f"{status} {verdict.get('sentence')}")
    journal = [json.loads(line) for line in (folder / "loadwitness-journal.jsonl").read_text().splitlines()]
    check("the journal remembers one run, completed", journal[-1]["end"] == "completed"
          and journal[-1]["n"] == len(all_records) and journal[0]["run"] == journal[-1]["run"], journal)
    check("nothing but the log remains", [f.name for f in out.iterdir()] == ["run.jsonl"], list(out.iterdir()))
    again = resume(out)
    check("a closed run is said to be closed, with status 0", again.returncode == 0 and "is closed" in again.stdout,
          again.stdout + again.stderr)


def stops(folder):
    out = killed(folder, "stop", "stop")
    pristine = folder / "pristine"
    shutil.copytree(out, pristine)
    told = resume(out)
    last = records(out)[-1]
    check("a run stops after its interruption", told.returncode == 1 and last["type"] == "close"
          and last["reason"] == "interrupted", told.stdout + told.stderr)
    check("no load came back on", stages(out) == ["idle", "cpu-soak"], stages(out))
    whole, summary = is_whole(out)
    check("a run that stops is whole and closed", whole, summary)
    status, verdict = judge(out)
    check("a run that stops is judged", status in (1, 2), f"{status} {verdict.get('sentence')}")
    return pristine


def restart_loop(folder, pristine):
    """Boots without a sample: made by their records, since this machine does not start again for a check."""
    out = folder / "loop"
    shutil.copytree(pristine, out)
    for boot in ("boot-b", "boot-c"):
        append_boot(out, boot)
    told = resume(out)
    last = records(out)[-1]
    check("three boots without a sample are a restart loop", told.returncode == 1
          and last["reason"] == "restart-loop", f"{last} {told.stdout}{told.stderr}")


def append_boot(out, boot_id):
    import hashlib
    lines = (out / "run.jsonl").read_bytes().splitlines()
    last = json.loads(lines[-1])
    segment = max(json.loads(line).get("seg", 0) for line in lines) + 1
    body = json.dumps({"n": last["n"] + 1, "type": "boot", "seg": segment, "t": 1, "utc": "2026-11-25T14:00:00.000Z",
                       "bootId": boot_id, "utcTrusted": False}, separators=(",", ":"))[:-1].encode()
    digest = hashlib.sha256(last["chain"].encode() + body).hexdigest()
    with (out / "run.jsonl").open("ab") as log:
        log.write(body + b',"chain":"' + digest.encode() + b'"}\n')


def refusals(folder, pristine):
    twice = folder / "twice"
    process = subprocess.Popen([*AGENT, "run", "--procedure", procedure(folder, "go-on", 60), "--out", str(twice)],
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    end = time.monotonic() + 60
    while not (twice / "run.jsonl").exists() and time.monotonic() < end:
        time.sleep(0.05)
    both = [subprocess.Popen([*AGENT, "resume", str(twice)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
            for _ in range(2)]
    told = [(p.communicate(timeout=60)[0], p.returncode) for p in both]
    check("a log that is being written is not resumed", all(s == 73 and "another writer holds" in t for t, s in told), told)
    process.send_signal(signal.SIGKILL)
    process.wait()
    digest = re.search(r"--as-shown ([0-9a-f]{64})", resume(twice).stdout).group(1)
    both = [subprocess.Popen([*AGENT, "resume", str(twice), "--attended", "--as-shown", digest], stdout=subprocess.PIPE,
                             stderr=subprocess.STDOUT, text=True) for _ in range(2)]
    time.sleep(6)
    for p in both:
        p.send_signal(signal.SIGTERM)
    told = [(p.communicate(timeout=60)[0], p.returncode) for p in both]
    boots = [r for r in records(twice) if r["type"] == "boot"]
    check("of two agents that resume at once one gets the log", sorted(s for _, s in told) == [2, 73] and len(boots) == 3,
          f"{told} {boots}")

    moved = folder / "moved-away"
    gone = resume(moved)
    check("a stick that is not there is said so", gone.returncode == 66 and "If the log lies on a stick" in gone.stderr,
          gone.stderr)
    moved.mkdir()
    other = resume(moved)
    check("another stick is said so", other.returncode == 66 and "another stick" in other.stderr, other.stderr)

    foreign = folder / "foreign"
    shutil.copytree(pristine, foreign)
    os.chown(foreign / "run.jsonl", 12345, 12345)
    before = (foreign / "run.jsonl").read_bytes()
    told = resume(foreign)
    check("another user's log is not touched", told.returncode == 77 and "belongs to user 12345" in told.stderr
          and (foreign / "run.jsonl").read_bytes() == before, told.stderr)
    link = folder / "link"
    link.mkdir()
    (link / "run.jsonl").symlink_to(pristine / "run.jsonl")
    told = resume(link)
    check("a link is not followed", told.returncode == 77 and "is a link" in told.stderr, told.stderr)

    nothing = call(*AGENT, "resume")
    check("without a folder resume asks for one", nothing.returncode == 64 and "'DIR'" in nothing.stderr, nothing.stderr)


def damaged(folder, pristine):
    """What was altered stays told; what a crash spoilt is left behind, and that is told."""
    altered = folder / "altered"
    shutil.copytree(pristine, altered)
    log = (altered / "run.jsonl").read_bytes()
    (altered / "run.jsonl").write_bytes(log.replace(b'"utc":"20', b'"utc":"19', 1))
    told = resume(altered)
    evidence = finding(altered, "evidence")
    check("a log that was altered is taken up as it is, and says so", "damaged, first at line 1 (edited" in told.stdout and "Nothing was taken out" in told.stdout
          and not (altered / "run.part2.jsonl").exists() and evidence["outcome"] == "inconclusive"
          and "nothing that it says can be relied on" in evidence["because"], f"{told.stdout}{told.stderr} {evidence}")

    spoilt = folder / "spoilt"
    shutil.copytree(pristine, spoilt)
    lines = (spoilt / "run.jsonl").read_bytes().splitlines(keepends=True)
    lines[-4] = bytes(len(lines[-4]) - 1) + b"\n"
    (spoilt / "run.jsonl").write_bytes(b"".join(lines))
    told = resume(spoilt)
    evidence = finding(spoilt, "evidence")
    read = json.loads(call("python3", str(TOP / "docs/examples/read_run.py"), "--json", str(spoilt / "run.jsonl")).stdout)
    close = json.loads((spoilt / "run.part2.jsonl").read_bytes().splitlines()[-1])
    check("what was left behind is not counted at the close", close["type"] == "close"
          and (close["samples"], close["events"]) == (read["records"]["sample"], read["records"]["event"]), f"{close} {read}")
    check("records behind spoilt bytes are left behind, and that is told", "whole records behind that place" in told.stdout
          and evidence["outcome"] == "inconclusive" and "were left behind" in evidence["because"],
          f"{told.stdout}{told.stderr} {evidence}")


def finding(out, criterion):
    _, verdict = judge(out)
    return next((f for f in verdict.get("findings", []) if f["criterion"] == criterion), verdict)


def nothing_left(folder):
    """Killed after its last stage, before its close."""
    out = folder / "go-on"
    log = (out / "run.jsonl").read_bytes()
    (out / "run.jsonl").write_bytes(log[:log.rindex(b"\n", 0, -1) + 1])
    told = resume(out)
    check("a run whose stages had all ended is closed", told.returncode == 0 and "it is only closed" in told.stdout
          and records(out)[-1]["reason"] == "completed", told.stdout + told.stderr)


def on_terminal(command, *answers):
    """Runs a program on a terminal, and gives each answer when it asks; (status, what it printed)."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.execvp(command[0], command)
    said, answers = b"", list(answers)
    while True:
        try:
            more = os.read(terminal, 65536)
        except OSError:  # its end, on Linux
            more = b""
        if not more:
            return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), said.decode(errors="replace")
        said += more
        if answers and said.endswith(b"anything else ends here: "):
            os.write(terminal, answers.pop(0) + b"\n")


def asks_before_load(folder):
    out = killed(folder, "asked", "go-on")
    command = [*AGENT, "resume", str(out)]
    status, said = on_terminal(command, b"no")
    check("without the word no load comes back, and the log stays open", status == 2 and "no load was put on" in said
          and "How it ended" in said and "Not excluded: agent-killed" in said and stages(out) == ["idle", "cpu-soak"]
          and records(out)[-1]["type"] == "boot-evidence", f"{status} {said}")
    status, said = on_terminal(command, b"load")
    check("what it goes on with is shown before the word is asked for", re.search(
        r"What it goes on with.*ticket +FBR-2026-0142.*SHA-256 of it +[0-9a-f]{64}, NOT one of.*cpu above 105 Cel.*"
        r"on-interruption +go-on.*cpu-soak, 4 s, cpu.*in all +5 s.*Type  load", said, re.DOTALL), said)
    check("with the word the run goes on to its end", status == 0
          and stages(out) == ["idle", "cpu-soak", "cpu-soak", "cool-down"], f"{status} {stages(out)} {said[-500:]}")


def unwatched(folder):
    """A part that no temperature watches is not loaded unless the procedure allows that: said before anything begins."""
    text = pathlib.Path(procedure(folder, "stop")).read_text().replace("unguarded: allow", "unguarded: refuse")
    file = folder / "refuses.yaml"
    file.write_text(text)
    probed = json.loads(call(*AGENT, "probe", "--json", "--procedure", str(file)).stdout)
    watched = any(c["role"] == "cpu" and c["metric"] == "hw.temperature" for c in probed["channels"])
    foretold = any("'run' refuses" in m["whatToDo"] for m in probed["missing"])
    ran = call(*AGENT, "run", "--procedure", str(file), "--out", str(folder / "refused"))
    refused = ran.returncode == 69 and "no temperature sensor watches cpu" in ran.stderr
    check("a load that nothing watches is refused beforehand, as probe said", foretold == refused != watched
          and (folder / "refused").exists() == watched, f"{watched} {foretold} {ran.returncode} {ran.stderr}")


def other_users(folder, pristine):
    """Only who began a run goes on with it, whoever that is."""
    folder.chmod(0o755)
    own = folder / "own"
    shutil.copytree(pristine, own)
    for path in (own, *own.iterdir()):
        os.chown(path, 65534, 65534)
        path.chmod(0o777 if path.is_dir() else 0o666)
    as_nobody = {"user": 65534, "group": 65534, "extra_groups": [], "cwd": "/", "env": {"HOME": "/", "PATH": os.environ["PATH"]}}
    told = call(*AGENT, "resume", str(own), **as_nobody)
    check("an ordinary user takes up a run of his own", told.returncode == 1 and "Resumed" in told.stdout,
          f"{told.returncode} {told.stdout}{told.stderr}")
    roots = folder / "roots"
    shutil.copytree(pristine, roots)
    for path in (roots, *roots.iterdir()):
        path.chmod(0o777 if path.is_dir() else 0o666)
    before = (roots / "run.jsonl").read_bytes()
    told = call(*AGENT, "resume", str(roots), **as_nobody)
    check("but not one of root's, whatever its mode", told.returncode == 77 and "belongs to user 0" in told.stderr
          and (roots / "run.jsonl").read_bytes() == before, f"{told.returncode} {told.stdout}{told.stderr}")


def full_disk(folder, pristine):
    small = folder / "small-disk"
    small.mkdir()
    mounted = call("mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(small))
    check("a small disk can be mounted (root needed)", mounted.returncode == 0, mounted.stderr)
    if mounted.returncode != 0:
        return
    try:
        out = small / "run"
        shutil.copytree(pristine, out)
        check("the killed run left its reserve", (out / "run.reserve").exists(), list(out.iterdir()))
        call("dd", "if=/dev/zero", f"of={small / 'filler'}", "bs=1k")
        told = resume(out)
        last = records(out)[-1]
        check("on a full disk the reserve takes the records of the end", told.returncode == 1
              and last["reason"] == "interrupted", f"{last} {told.stdout}{told.stderr}")
    finally:
        call("umount", str(small))


def main():
    trial.alone()
    with tempfile.TemporaryDirectory(prefix="loadwitness-resume-") as name:
        folder = pathlib.Path(name)
        goes_on(folder)
        nothing_left(folder)
        asks_before_load(folder)
        unwatched(folder)
        pristine = stops(folder)
        restart_loop(folder, pristine)
        refusals(folder, pristine)
        damaged(folder, pristine)
        other_users(folder, pristine)
        full_disk(folder, pristine)
    return trial.status()


if __name__ == "__main__":
    sys.exit(main())
