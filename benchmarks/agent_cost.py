#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Measures what the agent costs at 1 Hz beside a fully loaded machine: processor, memory, jitter, and load that it takes away.

Linux, Python 3.9 or later, standard library only. Needs agent/target/loadwitness-agent.jar (mvn -DskipTests package)
and chrt of util-linux. docs/benchmarks.md says what each figure is. Exit status: 0 measured, whatever the figures are;
1 could not measure.
"""
import argparse
import datetime
import json
import math
import os
import pathlib
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time

TOP = pathlib.Path(__file__).resolve().parent.parent
JAR = TOP / "agent/target/loadwitness-agent.jar"
WORKER_CLASS = "dev.loadwitness.agent.load.child.WorkerMain"
WORKER_FLAGS = ["-XX:+UseSerialGC", "-Xmx32m", "-Xshare:auto"]  # as LoadLauncher starts it
PERIOD_NANOS = 1_000_000_000
TICKS_A_SECOND = os.sysconf("SC_CLK_TCK")
CORES = len(os.sched_getaffinity(0))

AIM_CPU_PERCENT = 0.5
AIM_MEMORY_MB = 100
MB_A_MIB = 1.048576

# Two-sided 95 %: the 0.975 quantile of Student's t for 1, 2, ... 30 degrees of freedom.
# NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, "Critical Values of the Student's-t Distribution".
T_975 = [
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
    2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086,
    2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
]

PROCEDURE = """\
format: loadwitness-procedure/1
name: agent-cost
title: Processor load, to see what the agent costs beside it
sampling: 1 s
stages:
  - id: cpu-soak
    loads: [cpu]
    proves: cpu
    duration: {seconds} s
safety:
  stop-above: {{cpu: 105 Cel, battery: 45 Cel}}
  silent-after: 10 s
  adapter-lost: stop
  unguarded: allow
decision:
  rule: guarded
  guard-factor: 1
criteria:
  interruptions:
    mandatory: yes
  evidence:
    mandatory: yes
"""


class CannotMeasure(Exception):
    """Why there is no figure."""


# ---- what the kernel says ----------------------------------------------------------------------------------------


def stat_fields(pid):
    """Fields of /proc/PID/stat from the third (state) on; the name before them may hold anything."""
    text = pathlib.Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
    return text[text.rindex(")") + 2 :].split()


def cpu_seconds(pid):
    """utime + stime of a process, all its threads, without its children."""
    fields = stat_fields(pid)
    return (int(fields[11]) + int(fields[12])) / TICKS_A_SECOND


def memory_mib(pid):
    """(VmRSS, VmHWM) in MiB."""
    found = {}
    for line in pathlib.Path(f"/proc/{pid}/status").read_text(encoding="utf-8", errors="replace").splitlines():
        name, _, value = line.partition(":")
        if name in ("VmRSS", "VmHWM"):
            found[name] = int(value.split()[0]) / 1024
    if len(found) != 2:
        raise OSError("the process is ending")
    return found["VmRSS"], found["VmHWM"]


def busy_seconds():
    """Processor time that the whole machine has spent: user, nice, system, irq, softirq; nothing idle or stolen."""
    with open("/proc/stat", encoding="ascii") as stat:
        fields = [int(f) for f in stat.readline().split()[1:]]
    return (fields[0] + fields[1] + fields[2] + fields[5] + fields[6]) / TICKS_A_SECOND


def worker_of(parent):
    """The process number of the parent's load worker; None if it has none yet."""
    for entry in pathlib.Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                if int(stat_fields(entry.name)[1]) == parent:
                    if WORKER_CLASS.encode() in (entry / "cmdline").read_bytes():
                        return int(entry.name)
            except (OSError, ValueError):
                continue
    return None


# ---- the log -----------------------------------------------------------------------------------------------------


def records(path):
    """The whole records that are in the file now."""
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return []
    return [json.loads(line) for line in data[: data.rfind(b"\n") + 1].splitlines()]


def has_stage(path, kind):
    return any(r["type"] == "event" and r["kind"] == kind for r in records(path))


def samples_now(path):
    return sum(r["type"] == "sample" for r in records(path))


def epoch(utc):
    return datetime.datetime.strptime(utc, "%Y-%m-%dT%H:%M:%S.%f%z").timestamp()


# ---- processes ---------------------------------------------------------------------------------------------------


class Agent:
    """A running agent; it is stopped on the way out, and its load with it."""

    def __init__(self, jvm_flags, arguments, folder):
        self.log = folder / "run.jsonl"
        self.said = folder.parent / (folder.name + ".out")
        command = ["java", *jvm_flags, "-jar", str(JAR), *arguments, "--out", str(folder)]
        with open(self.said, "wb") as out:
            self.process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=out, stderr=subprocess.STDOUT)
        self.pid = self.process.pid

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.stop()

    def await_(self, what, condition, seconds):
        """Waits until the condition holds; fails if the agent ends before, or the time is over."""
        deadline = time.monotonic() + seconds
        while not condition():
            if self.process.poll() is not None and not condition():
                raise CannotMeasure(f"the agent ended (status {self.process.returncode}) before {what}:\n" + self.words())
            if time.monotonic() > deadline:
                raise CannotMeasure(f"no {what} within {seconds} s:\n" + self.words())
            time.sleep(0.1)

    def words(self):
        return self.said.read_text(encoding="utf-8", errors="replace")[-2000:]

    def stop(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()


class Load:
    """A load worker of our own that goes on through all windows, so that no start of a JVM is in any of them."""

    def __init__(self):
        self.process = subprocess.Popen(
            ["chrt", "--idle", "0", "java", *WORKER_FLAGS, "-cp", str(JAR), WORKER_CLASS, "cpu", str(CORES)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self.news = threading.Condition()
        self.progress = None  # (nanoseconds of the worker's own clock, units found right)
        self.trouble = ""
        self.ended = False
        self.stopping = threading.Event()
        threading.Thread(target=self.listen, daemon=True).start()
        threading.Thread(target=self.beat, daemon=True).start()

    def listen(self):
        for raw in self.process.stdout:
            words = raw.decode("ascii", errors="replace").split()
            with self.news:
                if words[:1] == ["progress"]:
                    self.progress = (int(words[1]), int(words[2]))
                elif words[:1] in (["error"], ["failed"]):
                    self.trouble = raw.decode("ascii", errors="replace").strip()
                self.news.notify_all()
        with self.news:
            self.ended = True
            self.news.notify_all()

    def beat(self):
        while not self.stopping.is_set():
            try:
                self.process.stdin.write(b"beat\n")
                self.process.stdin.flush()
            except OSError:
                return  # it has ended; whoever waits for its progress is told there
            self.stopping.wait(1)

    def next_progress(self):
        """The next line of progress to come."""
        with self.news:
            seen = self.progress
            fresh = self.news.wait_for(lambda: self.progress != seen or self.ended or self.trouble, timeout=30)
            if self.ended or self.trouble:
                raise CannotMeasure("the load worker ended: " + (self.trouble or "it does not say why"))
            if not fresh:
                raise CannotMeasure("the load worker told of no progress for 30 s")
            return self.progress

    def rate(self, seconds):
        """Verified units a second over a window of that length."""
        begin = self.next_progress()
        time.sleep(seconds)
        end = self.next_progress()
        if end[1] == begin[1]:
            raise CannotMeasure("the load did no work: other processes take the whole machine")
        return (end[1] - begin[1]) / ((end[0] - begin[0]) / 1e9)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.stopping.set()
        self.process.kill()
        self.process.wait()


# ---- figures -----------------------------------------------------------------------------------------------------


def quantile(values, share):
    """The smallest value that at least this share of the values do not exceed (nearest rank)."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(share * len(ordered)) - 1)]


def mean_interval(values):
    """Mean and half width of its two-sided 95 % Student-t interval; infinite for fewer than two values."""
    mean = statistics.fmean(values)
    if len(values) < 2:
        return mean, math.inf
    # Beyond the table its last entry serves, which is a little too wide.
    t = T_975[min(len(values) - 1, len(T_975)) - 1]
    return mean, t * statistics.stdev(values) / math.sqrt(len(values))


def within(value, aim):
    return "met" if value < aim else "NOT met"


def jitter_line(name, milliseconds):
    print(
        f"  {name:<34} p50 {quantile(milliseconds, 0.5):8.3f} ms   p99 {quantile(milliseconds, 0.99):8.3f} ms"
        f"   max {max(milliseconds):8.3f} ms   (n = {len(milliseconds)})"
    )


def cost_of_a_run(options, folder):
    """Part one: a real run with one loaded stage, watched from outside."""
    procedure = folder / "agent-cost.yaml"
    procedure.write_text(PROCEDURE.format(seconds=options.stage), encoding="utf-8")
    watched = []  # (UTC seconds, agent's processor seconds, worker's, the machine's, VmRSS, VmHWM)
    with Agent(options.jvm, ["run", "--procedure", str(procedure)], folder / "run") as agent:
        agent.await_("loaded stage", lambda: has_stage(agent.log, "stage-begin"), 90)
        worker = worker_of(agent.pid)
        if worker is None:
            raise CannotMeasure("the agent has no load worker in its loaded stage:\n" + agent.words())
        due = time.monotonic()
        while agent.process.poll() is None:
            try:
                watched.append(
                    (time.time(), cpu_seconds(agent.pid), cpu_seconds(worker), busy_seconds(), *memory_mib(agent.pid))
                )
            except OSError:
                break  # worker or agent is ending: the stage is over
            due += 0.5
            time.sleep(max(0.0, due - time.monotonic()))
        try:
            agent.process.wait(timeout=60)
        except subprocess.TimeoutExpired:
            raise CannotMeasure("the agent did not end after its stage:\n" + agent.words()) from None
        if agent.process.returncode != 0:
            raise CannotMeasure(f"the run ended with status {agent.process.returncode}:\n" + agent.words())
    log = records(agent.log)
    begin, end = (next(r for r in log if r["type"] == "event" and r["kind"] == k) for k in ("stage-begin", "stage-end"))
    watched = [w for w in watched if epoch(begin["utc"]) <= w[0] <= epoch(end["utc"])]
    if len(watched) < 4:
        raise CannotMeasure("the loaded stage was too short to watch")
    channels = next(r for r in log if r["type"] == "channels")["channels"]
    column = [c["id"] for c in channels].index("witness.lateness")
    samples = [r for r in log if r["type"] == "sample" and begin["t"] <= r["t"] <= end["t"]]
    if len(samples) < 3:
        raise CannotMeasure(f"only {len(samples)} samples in the loaded stage")
    print_run(watched, samples, column)


def print_run(watched, samples, column):
    first, middle, last = watched[0], watched[len(watched) // 2], watched[-1]
    seconds = last[0] - first[0]
    share = 100 * (last[1] - first[1]) / seconds
    second_half = 100 * (last[1] - middle[1]) / (last[0] - middle[0])
    busy = 100 * (last[3] - first[3]) / seconds / CORES
    load = 100 * (last[2] - first[2]) / seconds / CORES
    others = max(0.0, busy - load - share / CORES)
    print(f"Agent during a loaded stage ({seconds:.1f} s watched, one sample a second)")
    print(f"  machine busy {busy:.1f} %: load {load:.1f} %, agent {share / CORES:.2f} %, other processes {others:.1f} %")
    if others > 5:
        print("  NOTE: other processes disturbed this measurement; repeat it on a machine at rest")
    if busy < 95:
        print("  NOTE: the machine was not fully loaded")
    print(
        f"  agent's processor share            {share:.3f} % of one core (± {100 / TICKS_A_SECOND / seconds:.3f} from the"
        f" kernel's tick)   aim < {AIM_CPU_PERCENT} %: {within(share, AIM_CPU_PERCENT)}"
    )
    print(f"    in the second half of the stage  {second_half:.3f} % of one core")
    print(
        f"  agent's resident memory            {last[4]:.1f} MiB at the end, {last[5]:.1f} MiB at most since its start"
        f"   aim < {AIM_MEMORY_MB} MB: {within(last[5] * MB_A_MIB, AIM_MEMORY_MB)}"
    )
    steps = [b["t"] - a["t"] for a, b in zip(samples, samples[1:])]
    jitter_line("lateness of a sample", [1e3 * s["v"][column] for s in samples])
    jitter_line("|time between two samples - 1 s|", [abs(s - PERIOD_NANOS) / 1e6 for s in steps])
    print(f"  samples missed                     {sum(max(0, round(s / PERIOD_NANOS) - 1) for s in steps)}")


def loss_of_load(options, folder):
    """Part two: the same load with and without the agent beside it, in pairs."""
    losses = []
    print(
        f"Loss of load throughput ({options.pairs} pairs of {options.seconds:g} s each way, order alternating,"
        f" {CORES} threads in the idle scheduling class)"
    )
    with Load() as load:
        load.next_progress()
        time.sleep(options.settle)

        def without():
            time.sleep(options.settle)
            return load.rate(options.seconds)

        def beside(pair):
            minutes = math.ceil((options.seconds + options.settle + 120) / 60)  # it ends by itself even if we are killed
            arguments = ["observe", "--for", f"{minutes} min"]
            with Agent(options.jvm, arguments, folder / f"observe-{pair}") as agent:
                agent.await_("sample", lambda: samples_now(agent.log) >= 2, 60)
                time.sleep(options.settle)
                rate = load.rate(options.seconds)
                if agent.process.poll() is not None:
                    raise CannotMeasure("the agent ended within a window:\n" + agent.words())
                return rate

        for pair in range(1, options.pairs + 1):
            if pair % 2:
                alone = without()
                together = beside(pair)
            else:
                together = beside(pair)
                alone = without()
            losses.append(100 * (1 - together / alone))
            print(
                f"  pair {pair:2d}: {alone:9.2f} units/s without, {together:9.2f} with the agent: loss {losses[-1]:+.3f} %",
                flush=True,
            )
    mean, half = mean_interval(losses)
    print(f"  mean loss {mean:+.3f} %, 95 % interval {mean - half:+.3f} to {mean + half:+.3f} % (Student's t, {len(losses)} pairs)")


def arguments():
    parser = argparse.ArgumentParser(description="Measure what the agent costs beside a fully loaded machine.")
    parser.add_argument("--quick", action="store_true", help="a smoke test of less than a minute; its figures mean little")
    parser.add_argument("--stage", type=int, help="seconds of the loaded stage of the real run (default 60)")
    parser.add_argument("--pairs", type=int, help="pairs of windows with and without the agent (default 6)")
    parser.add_argument("--seconds", type=float, help="length of each window (default 20)")
    parser.add_argument("--jvm", default="", metavar="FLAGS", help="JVM flags of the agent (default: none)")
    parser.add_argument("--dir", help="where the logs lie while measuring (default: the system's temporary folder)")
    options = parser.parse_args()
    for name, quick, thorough in (("stage", 8, 60), ("pairs", 2, 6), ("seconds", 3, 20)):
        if getattr(options, name) is None:
            setattr(options, name, quick if options.quick else thorough)
    options.settle = 1 if options.quick else 5  # the agent's start and its first compilations are not in a window
    options.jvm = options.jvm.split()
    if options.stage < 5 or options.pairs < 1 or options.seconds < 1:
        parser.error("--stage must be 5 or more, --pairs and --seconds 1 or more")
    return options


def main():
    options = arguments()
    # So that a termination, too, goes through the clean-up that stops agent and load.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda received, _: sys.exit(128 + received))
    try:
        if not JAR.is_file():
            raise CannotMeasure(f"{JAR.relative_to(TOP)} is missing; build it first: mvn -DskipTests package")
        for tool in ("java", "chrt"):
            if shutil.which(tool) is None:
                raise CannotMeasure(f"no {tool} found; install it first")
        version = subprocess.run(["java", "-version"], capture_output=True, text=True, check=False).stderr.splitlines()
        print(f"{CORES} cores; {version[-1] if version else 'unknown JVM'}")
        print(f"JVM flags of the agent: {' '.join(options.jvm) or 'none'}; of the load: {' '.join(WORKER_FLAGS)}")
        for variable in ("JAVA_TOOL_OPTIONS", "JDK_JAVA_OPTIONS"):
            if os.environ.get(variable):
                print(f"{variable} is set: {os.environ[variable]}")
        if options.quick:
            print("QUICK: a smoke test; do not quote these figures")
        sys.stdout.flush()
        with tempfile.TemporaryDirectory(prefix="loadwitness-cost-", dir=options.dir) as name:
            folder = pathlib.Path(name)
            cost_of_a_run(options, folder)
            sys.stdout.flush()
            loss_of_load(options, folder)
    except (CannotMeasure, OSError) as problem:
        print(f"agent_cost: could not measure: {problem}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
