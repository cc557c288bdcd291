#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Both programs together, as a user has them: the jars, real processes, real disks.

Run by ./check after the build. Options: --kills N (how often a run is killed, default 12; the full trial is 200).
Needs root for the full disk (a small tmpfs is mounted); without it that check fails, it is not skipped.
"""
import argparse
import fcntl
import json
import os
import pathlib
import pty
import random
import re
import select
import signal
import subprocess
import sys
import tempfile
import termios
import time

import trial
from trial import call, check

TOP = pathlib.Path(__file__).resolve().parent.parent
AGENT = ["java", "-jar", str(TOP / "agent/target/loadwitness-agent.jar")]
REPORTER = ["java", "-jar", str(TOP / "reporter/target/loadwitness-reporter.jar")]

def short(seconds):
    return trial.procedure("end-to-end", "Some seconds of load, to see both programs together",
                           [trial.stage("idle", "1 s", loaded=False), trial.stage("cpu-soak", f"{seconds} s")])

GPU_LOADS = ["gpu-core", "gpu-memory", "gpu-mix", "gpu-ramp", "gpu-steps"]
# The name of PoCL's driver; it runs OpenCL on the processor.
POCL = "Portable Computing Language"

def workers():
    """Process numbers of load workers of this checkout."""
    found = []
    for entry in pathlib.Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                line = (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
            except OSError:
                continue
            if "dev.loadwitness.agent.load.child.WorkerMain" in line and str(TOP) in line:
                found.append(int(entry.name))
    return found


def gone_within(seconds):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if not workers():
            return True
        time.sleep(0.1)
    return False


def procedure(folder, seconds):
    file = folder / f"short-{seconds}.yaml"
    file.write_text(short(seconds))
    return str(file)


def start(folder, seconds, out):
    return subprocess.Popen(
        [*AGENT, "run", "--procedure", procedure(folder, seconds), "--out", str(out)],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)


def judge(log):
    result = call(*REPORTER, "judge", "--json", str(log))
    try:
        return result.returncode, json.loads(result.stdout), result.stderr
    except ValueError:
        return result.returncode, {}, result.stdout + result.stderr


def a_whole_run(folder):
    out = folder / "whole"
    process = start(folder, 6, out)
    output = process.communicate(timeout=120)[0]
    check("a run completes", process.returncode == 0, output)
    status, verdict, err = judge(out / "run.jsonl")
    header = json.loads((out / "run.jsonl").read_text().splitlines()[0])
    told = [call(*program, "--version").stdout for program in (AGENT, REPORTER)]
    build = re.compile(r"loadwitness-(agent|reporter) (\d+\.\d+\.\d+ \(([0-9a-f]{10}(-dirty)?|unknown commit), \S+Z\))")
    builds = [build.match(t) for t in told]
    check("both programs tell version and build", all(builds) and builds[0][2] == builds[1][2], told)
    check("the log tells the agent's build", builds[0] and header["agent"] == builds[0][2], header["agent"])
    check("a whole short run passes its own criteria", status == 0, json.dumps(verdict, indent=1) + err)
    again = call(*AGENT, "run", "--procedure", procedure(folder, 6), "--out", str(out))
    check("a log is never overwritten", again.returncode == 73 and "exists already" in again.stderr, again.stderr)
    one, two = (call(*REPORTER, "judge", "--json", str(out / "run.jsonl"), env={**os.environ, "LC_ALL": locale,
                                                                              "TZ": zone}).stdout
                for locale, zone in (("C", "UTC"), ("de_DE.UTF-8", "Asia/Kolkata")))
    check("the verdict does not depend on locale and time zone", one == two and one, one[:200])
    return out / "run.jsonl"


def a_signed_report(folder, log):
    key, pdf = folder / "key.p12", folder / "report.pdf"
    environment = {**os.environ, "PASS_FOR_TEST": "correct horse on a bench"}
    made = call(*REPORTER, "signing-key", "--out", str(key), "--name", "End To End", "--passphrase-env",
                "PASS_FOR_TEST", env=environment)
    check("a signing key is made", made.returncode == 0 and key.exists(), made.stdout + made.stderr)
    written = call(*REPORTER, "certify", str(log), "--out", str(pdf), "--key", str(key), "--passphrase-env",
                   "PASS_FOR_TEST", env=environment)
    check("a report is written and signed", written.returncode == 0, written.stdout + written.stderr)
    seen = call("pdfsig", "-nocert", str(pdf))
    check("pdfsig finds the signature valid", "Signature is Valid" in seen.stdout, seen.stdout + seen.stderr)
    check("pdfsig finds the whole document signed", "Total document signed" in seen.stdout, seen.stdout)
    verified = call(*REPORTER, "verify", str(pdf))
    check("verify agrees with the report", verified.returncode == 0, verified.stdout + verified.stderr)
    data = bytearray(pdf.read_bytes())
    data[len(data) // 3] ^= 1
    (folder / "changed.pdf").write_bytes(data)
    refused = call(*REPORTER, "verify", str(folder / "changed.pdf"))
    check("verify refuses a changed report", refused.returncode == 1, refused.stdout + refused.stderr)


def a_machine_at_rest(folder):
    out = folder / "at-rest"
    watched = call(*AGENT, "observe", "--for", "3 s", "--out", str(out))
    check("observe completes", watched.returncode == 0, watched.stdout + watched.stderr)
    status, verdict, err = judge(out / "run.jsonl")
    check("a machine at rest never passes", status == 2 and "no load" in verdict.get("sentence", ""),
          f"{status} {verdict.get('sentence')} {err}")


def shortened_quick_check(folder):
    """The shipped quick check with shorter stages; its two GPU stages are there, on what stands in for a GPU."""
    text = (TOP / "thresholds/quick-check.yaml").read_text()
    text = re.sub(r"^(    duration:) (10|20|30) s", r"\1 3 s", text, flags=re.M)
    text = re.sub(r"^(    duration:) 60 s", r"\1 8 s", text, flags=re.M)
    text = re.sub(r"^(    at-least:) 50 s", r"\1 5 s", text, flags=re.M)
    text = re.sub(r"^(    block:) 10 s", r"\1 2 s", text, flags=re.M)
    text = re.sub(r"^(    window:) 20 s", r"\1 2 s", text, flags=re.M)
    text = re.sub(r"^(    memory-share:) 25 %", r"\1 2 %", text, flags=re.M)
    file = folder / "quick-check-short.yaml"
    file.write_text(text)
    return str(file)


def every_gpu_load(folder, seconds):
    stages = "".join(f"""\
  - id: {load}
    loads: [{load}]
    gpu: gpu-discrete
    {"memory-share: 1 %" if load == "gpu-memory" else "if-present: yes"}
    duration: {seconds} s
""" for load in GPU_LOADS if load != "gpu-mix")
    head, tail = short(2).split("safety:\n")
    file = folder / f"gpu-loads-{seconds}.yaml"
    file.write_text(head + stages + "safety:\n" + tail.replace("cpu: 105 Cel,", "cpu: 105 Cel, gpu-discrete: 92 Cel,"))
    return str(file)


def events(log, kind):
    records = (json.loads(line) for line in log.read_text().splitlines())
    return [r["facts"] for r in records if r["type"] == "event" and r["kind"] == kind]


def gpu_stages(folder):
    """The shipped quick check, its GPU stages on OpenCL's processor device, chosen explicitly."""
    out = folder / "gpu-quick"
    ran = call(*AGENT, "run", "--procedure", shortened_quick_check(folder), "--opencl-device", POCL, "--out", str(out))
    check("the quick check runs with its GPU stages", ran.returncode == 0, ran.stdout[-800:] + ran.stderr)
    log = out / "run.jsonl"
    caught_on_stand_in(log, ["gpu-mix", "gpu-mix"])
    check("the mix was looked for", any(e["chosen"] for e in events(log, "load-tuned")), events(log, "load-tuned"))
    records = [json.loads(line) for line in log.read_text().splitlines()]
    ids = [c["id"] for r in records if r["type"] == "channels" for c in r["channels"]]
    last = [r for r in records if r["type"] == "sample"][-1]["v"]
    for role in ("gpu-integrated", "gpu-discrete"):
        units, errors = (last[ids.index(f"{role}.work.{what}")] for what in ("verified", "errors"))
        check(f"work of {role} was verified, none wrong", units > 0 and errors == 0, f"{units}, {errors} wrong")
    status, verdict, err = judge(log)
    findings = {f["criterion"]: f for f in verdict.get("findings", [])}
    check("a stand-in for a GPU is never a pass, and the verdict says why",
          status == 2 and findings["evidence"]["outcome"] == "inconclusive"
          and "no GPU" in json.dumps(findings["evidence"]), f"{status} {json.dumps(verdict)[:600]} {err}")
    check("no result was wrong", findings["compute-errors"]["outcome"] == "pass", findings["compute-errors"])


def caught_on_stand_in(log, loads):
    begun = [e for e in events(log, "load-begin") if e["load"].startswith("gpu-")]
    check("GPU loads ran, on a stand-in", [e["load"] for e in begun] == loads
          and all(e.get("standIn") is True for e in begun), begun)
    planted = [e for e in events(log, "witness-check")
               if e["check"] == "planted-miscomputation" and e["load"].startswith("gpu-")]
    check("a planted wrong result of every GPU load was caught",
          [e["load"] for e in planted] == loads and all(e["caught"] is True for e in planted), planted)


def gpu_worker_is_killed(folder):
    """All other GPU loads, the last of which is killed."""
    out = folder / "gpu-killed"
    process = subprocess.Popen([*AGENT, "run", "--procedure", every_gpu_load(folder, 2), "--opencl-device", POCL,
                                "--out", str(out)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    log, end = out / "run.jsonl", time.monotonic() + 120
    while time.monotonic() < end and process.poll() is None:
        if log.exists() and re.search(rb'"stage-begin".*"gpu-steps"', log.read_bytes()):
            victims = workers()
            check("one worker at a time", len(victims) == 1, victims)
            os.kill(victims[0], signal.SIGKILL)
            break
        time.sleep(0.1)
    output = process.communicate(timeout=60)[0]
    check("a killed GPU worker leaves no load", gone_within(3), workers())
    check("a killed GPU worker ends the run", process.returncode not in (0, None), output[-800:])
    caught_on_stand_in(log, [load for load in GPU_LOADS if load != "gpu-mix"])
    died = events(log, "worker-died")
    check("a killed GPU worker is on record", len(died) == 1 and died[0]["load"] == "gpu-steps", died)
    last = log.read_text().splitlines()[-1]
    check("a killed GPU worker closes the log as a failed load",
          '"type":"close"' in last and '"load-failed"' in last, last[:300])
    status, verdict, err = judge(log)
    check("a killed GPU worker says nothing against the machine", status == 2
          and "load itself failed" in json.dumps(verdict), f"{status} {json.dumps(verdict)[:600]} {err}")


def on_a_terminal(folder, words, arguments):
    """Runs the agent on a terminal of its own; each of ``words`` is (awaited text, what is typed then)."""
    parent, child = pty.openpty()
    process = subprocess.Popen([*AGENT, *arguments], stdin=child, stdout=child, stderr=child, start_new_session=True,
                               cwd=folder, preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0))
    os.close(child)
    seen, end = "", time.monotonic() + 90
    words = list(words)
    while time.monotonic() < end:
        if select.select([parent], [], [], 0.2)[0]:
            try:
                seen += os.read(parent, 65536).decode(errors="replace")
            except OSError:
                break  # the agent is gone
        if words and re.search(words[0][0], seen):
            os.write(parent, words.pop(0)[1].encode())
            seen += "\n--typed--\n"
    if time.monotonic() >= end:
        process.kill()
    status = process.wait(timeout=30)
    os.close(parent)
    return status, seen


def cautions_are_confirmed(folder):
    good = procedure(folder, 60)
    run = ["run", "--procedure", good]
    status, seen = on_a_terminal(folder, [("Type  load", "\n")], [*run, "--out", str(folder / "not-confirmed")])
    check("an empty answer to the cautions starts nothing", status == 2 and "Nothing was started" in seen,
          f"{status}: {seen[-600:]}")
    check("without a confirmed caution there is no log", not (folder / "not-confirmed").exists())
    status, seen = on_a_terminal(folder, [("Type  load", "load\n"), ("stage cpu-soak", "\x03")],
                                 [*run, "--ticket", "FBR/1"])
    logs = list((folder / "runs/FBR_1").glob("*/run.jsonl"))
    check("the typed word puts the load on, Ctrl-C takes it off", status == 2 and len(logs) == 1
          and '"type":"close"' in logs[0].read_text().splitlines()[-1], f"{status}: {seen[-600:]}")
    check("without --out the log lies by ticket and time, with one journal",
          (folder / "runs/loadwitness-journal.jsonl").exists() and re.fullmatch(r"\d{8}T\d{6}Z", logs[0].parent.name)
          if logs else False, str(logs))
    status, seen = on_a_terminal(folder, [("stage cpu-soak", "\x03")],
                                 [*run, "--attended", "--out", str(folder / "attended")])
    check("--attended asks nothing", status == 2 and "Type  load" not in seen, f"{status}: {seen[-600:]}")
    check("what stays on a terminal when it is over leaves no load", gone_within(3), workers())


def what_probe_says(folder):
    told = call(*AGENT, "probe", "--json", "--out", str(folder / "probed"))
    place = json.loads(told.stdout)["place"]
    check("probe measures the log's place", place["appendP99Seconds"] >= place["appendMedianSeconds"] > 0, str(place))
    check("probe leaves nothing", not (folder / "probed").exists() and not list(folder.glob("loadwitness-probe*")))
    with tempfile.TemporaryDirectory(prefix="loadwitness-check-", dir="/dev/shm") as memory:
        told = call(*AGENT, "probe", "--out", memory).stdout
        check("a log in memory is said loudly", "IN MEMORY (tmpfs)" in told, told[-600:])


def soak_is_killed(folder):
    """TERM to the script itself: its agent takes the load off, and the run is still judged."""
    out = folder / "soak"
    process = subprocess.Popen(["bash", str(TOP / "soak"), "--out", str(out)], stdin=subprocess.DEVNULL,
                               stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    end = time.monotonic() + 60
    log = out / "run.jsonl"
    # A worker alone is not yet a load: one lists the OpenCL devices before the log is begun.
    while not (log.exists() and b'"load-begin"' in log.read_bytes() and workers()) and time.monotonic() < end:
        time.sleep(0.2)
    check("soak loads the machine", bool(workers()))
    process.send_signal(signal.SIGTERM)
    output = process.communicate(timeout=90)[0]
    check("a soak that is stopped leaves no load", gone_within(5), workers())
    check("a soak that is stopped is judged inconclusive, with a report",
          process.returncode == 2 and (out / "report.pdf").exists(), f"{process.returncode}: {output[-800:]}")
    check("soak ends with the paths of log, report and page", output.rstrip().endswith(
        f"log     {out}/run.jsonl\nreport  {out}/report.pdf\nreview  {out}/review.html"), output[-800:])
    check("the page is whole", (out / "review.html").read_text().endswith("</html>\n"))


def killed(folder, times, seed):
    """
    kill -9 at random moments: readable, no load left, and the judge names the interruption. Every second kill comes at
    any moment from the start on, before there is a log as well; the others once the log is begun, however busy the
    machine is.
    """
    rng = random.Random(seed)
    print(f"killing {times} runs, seed {seed}", flush=True)
    begin = time.monotonic()
    first = start(folder, 60, folder / "killed-first")
    check("a run to be killed begins", said(folder / "killed-first/run.jsonl", b'"load-begin"'), "no load within a minute")
    until_load = time.monotonic() - begin  # long on a busy machine
    first.kill()
    first.communicate()
    closed = 0
    for i in range(times):
        out = folder / f"killed-{i}"
        log = out / "run.jsonl"
        process = start(folder, 60, out)
        if i % 2:
            check(f"kill {i}: the run begins", said(log, b"\n"), "no log within a minute")
            time.sleep(rng.uniform(0, 8))
        else:
            time.sleep(rng.uniform(0.2, until_load + 6))
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        check(f"kill {i}: no load outlives the agent", gone_within(7), workers())
        if not log.exists() or log.stat().st_size == 0:
            continue  # killed before the log was made
        status, verdict, err = judge(log)
        if "no run log" in err or "header" in err:
            check(f"kill {i}: the header is whole or the log is empty", b"\n" not in log.read_bytes(), err)
            continue
        closed += 1
        sentence = verdict.get("sentence", "")
        check(f"kill {i}: the judge names the interruption", status == 2 and "breaks off" in sentence,
              f"status {status}: {sentence} {err[:500]}")
    check("half of the kills hit a run that had begun", closed >= times // 2, f"{closed} of {times}")


def said(log, words):
    """Waits for words in a log: on a busy machine a run takes a while to begin."""
    for _ in range(300):
        if log.exists() and words in log.read_bytes():
            return True
        time.sleep(0.2)
    return False


def stopped_by_hand(folder):
    for name in ("SIGTERM", "SIGINT"):
        out = folder / name
        process = start(folder, 60, out)
        check(f"before {name} the run is under load", said(out / "run.jsonl", b'"load-begin"'), "no load within a minute")
        process.send_signal(getattr(signal, name))
        began = time.monotonic()
        output = process.communicate(timeout=30)[0]
        check(f"{name} ends the run soon", time.monotonic() - began < 6, output)
        check(f"{name} gives the exit status of the help", process.returncode == 2, str(process.returncode))
        check(f"{name} leaves no load", gone_within(2), workers())
        lines = (out / "run.jsonl").read_text().splitlines()
        check(f"{name} closes the log", '"type":"close"' in lines[-1] and "operator-stop" in lines[-1], lines[-1])
        status, verdict, err = judge(out / "run.jsonl")
        check(f"{name} is inconclusive, by the operator", status == 2 and "operator" in verdict.get("sentence", ""),
              f"{status} {verdict.get('sentence')} {err}")


def full_disk(folder):
    """Memory for what waits is made small here: it lasts for half an hour and more otherwise."""
    small = folder / "small-disk"
    small.mkdir()
    mounted = call("mount", "-t", "tmpfs", "-o", "size=340k", "tmpfs", str(small))
    check("a small disk can be mounted (root needed)", mounted.returncode == 0, mounted.stderr)
    if mounted.returncode != 0:
        return
    try:
        command = [*AGENT, "run", "--procedure", procedure(folder, 600), "--log-memory", "32", "--out"]
        process = subprocess.Popen([*command, str(small / "run")], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                                   text=True)
        output = ""
        for line in process.stdout:
            output += line
            if "RUNNING stage" in line and "NO LOG DISK" not in output:
                # Once more after the reserve was given up.
                call("dd", "if=/dev/zero", f"of={small / 'filler'}", "bs=1k", "oflag=append", "conv=notrunc")
            if "The run is over and the load is off" in line:
                check("a full disk leaves no load", gone_within(2), workers())
                call("mount", "-o", "remount,size=4m", str(small))
        process.wait(timeout=60)
        log = small / "run" / "run.jsonl"
        last = log.read_text().splitlines()[-1]
        check("a disk that stays full is said loudly", "NO LOG DISK" in output, output[-600:])
        check("a disk that stays full ends the run early", process.returncode == 1, output[-600:])
        check("the end of a run on a full disk is on record", "storage-full" in last, last[:300] + output[-600:])
        status, verdict, err = judge(log)
        check("a run on a full disk is inconclusive, whole and says so",
              status == 2 and "disk was full" in verdict.get("sentence", ""), f"{status} {verdict.get('sentence')} {err}")
        # Room is there again: only the log may remain.
        check("nothing but the log remains", [f.name for f in log.parent.iterdir()] == ["run.jsonl"],
              list(log.parent.iterdir()))
    finally:
        call("umount", str(small))


def clear_errors(folder):
    read_only = folder / "read-only"
    read_only.mkdir()
    call("mount", "-t", "tmpfs", "-o", "ro,size=64k", "tmpfs", str(read_only))
    broken = folder / "broken.yaml"
    broken.write_text(short(5).replace("duration: 1 s", "duratoin: 1 s"))
    sheet = folder / "sheet.yaml"
    sheet.write_text("format: loadwitness-job-sheet/1\nticket: X\nrated-graphics-power: many\n")
    binary = folder / "binary.yaml"
    binary.write_bytes(bytes(range(256)) * 10)
    good = procedure(folder, 5)
    run = [*AGENT, "run"]
    cases = [
        ("read-only folder", [*run, "--procedure", good, "--out", str(read_only / "run")], 73, "cannot be written: it is mounted read-only"),
        ("procedure that is not here", [*run, "--procedure", "quick-chek", "--out", str(folder / "n9")], 66,
         r"no procedure 'quick-chek'.*quick-check"),
        ("missing procedure", [*run, "--procedure", "no-such.yaml", "--out", str(folder / "n1")], 66, "no such file"),
        ("mistake in procedure", [*run, "--procedure", str(broken), "--out", str(folder / "n2")], 65,
         r"line \d+, column \d+.*duration"),
        ("mistake in job sheet", [*run, "--procedure", good, "--out", str(folder / "n3"), "--job", str(sheet)], 65,
         r"line 3"),
        ("job sheet that is no text", [*run, "--procedure", good, "--out", str(folder / "n4"), "--job", str(binary)],
         65, "UTF-8"),
        ("another system", [AGENT[0], "-Dos.name=Plan 9", *AGENT[1:], "run", "--procedure", good, "--out", str(folder / "n10")],
         69, "Linux only"),
        ("no procedure and no terminal", [*run, "--out", str(folder / "n5")], 64, "--procedure"),
        ("absent device", [*run, "--procedure", str(TOP / "thresholds/gpu-power-repair.yaml"), "--out",
                           str(folder / "n6")], 69, "gpu-discrete"),
        ("impossible room", [*run, "--procedure", good, "--out", str(folder / "n7"), "--ambient", "225"], 64, "-20 to 60|between -20"),
        ("unknown word to withhold", [*run, "--procedure", good, "--out", str(folder / "n8"), "--withhold", "foo"], 64,
         "serial"),
        ("unknown option", [*run, "--proceduer", good], 64, "proceduer"),
        ("judging what is not there", [*REPORTER, "judge", str(folder / "none.jsonl")], 66, "no such file"),
        ("judging a folder", [*REPORTER, "judge", str(folder)], 66, "is a folder"),
        ("judging a text", [*REPORTER, "judge", str(broken)], 65, "run log"),
        ("judging a device", [*REPORTER, "judge", os.devnull], 66, "is a device"),
        ("verifying a text", [*REPORTER, "verify", str(broken)], 65, "."),
    ]
    for name, command, status, words in cases:
        result = call(*command, stdin=subprocess.DEVNULL)
        told = result.stdout + result.stderr
        check(f"{name}: exit status {status}", result.returncode == status, f"{result.returncode}: {told[:500]}")
        check(f"{name}: says so", re.search(words, told, re.S), told[:500])
        check(f"{name}: no stack trace", "\tat " not in told, told[:800])
        check(f"{name}: nothing was begun", not list(folder.glob("n*/run.jsonl")), told[:300])
    call("umount", str(read_only))


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--kills", type=int, default=12)
    options.add_argument("--seed", type=int, default=int(time.time()))
    options = options.parse_args()
    trial.alone()
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="loadwitness-check-") as name:
        folder = pathlib.Path(name)
        log = a_whole_run(folder)
        a_signed_report(folder, log)
        a_machine_at_rest(folder)
        clear_errors(folder)
        what_probe_says(folder)
        cautions_are_confirmed(folder)
        soak_is_killed(folder)
        stopped_by_hand(folder)
        full_disk(folder)
        gpu_began = time.monotonic()
        gpu_stages(folder)
        gpu_worker_is_killed(folder)
        print(f"GPU loads on a stand-in: {time.monotonic() - gpu_began:.0f} s", flush=True)
        killed(folder, options.kills, options.seed)
    print(f"end to end: {time.monotonic() - began:.0f} s")
    return trial.status()


if __name__ == "__main__":
    sys.exit(main())
