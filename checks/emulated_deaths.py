#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Real deaths of an emulated machine in the middle of a soak: a real kernel, systemd with a persistent journal, the real agent.

The machine is killed, reset, crashed, restarted and switched off, and its agent alone is killed; after each death it boots
from the same disk, a unit of this script's calls resume as a person would, and what that recorded is compared with what
really happened, which this script knows because it did it. Needs what bundle/build made, a JDK, gcc, root rights for debootstrap (once; see
LOADWITNESS_MACHINE_CACHE in machine/build.py), and the Debian packages qemu-system-x86 busybox-static debootstrap.
Exit status 0 if all is as it should be, 1 if not.

How the host knows what was acknowledged. The writer acknowledges a record when its force has returned. A library preloaded
into every program of the guest (machine/guest_witness.c) stands in that place: after each successful force of a run log it
sends the file's length and the chain value at its end to the host, through a FIFO, a `cat` and a serial port into a file
here. So the agent is the one that is shipped, with no switch for tests in it, and the chain value says which record it was.
What is still on its way when the machine dies is not counted, though it was acknowledged: the host tests a little less than
it could, never more. In the control the same library forces nothing and says the same: then records must be missing.

How the host knows when it died. It reads its own clock around the kill. How far the guest's clock is from it, is measured
shortly before by asking the guest for the time some times: the answer lies between question and reply.

What this shows and what not. Killing QEMU drops what the guest's kernel had not yet sent to its disk; it does not drop a
real disk's own volatile cache, does not tear a sector, and has none of the brown-out of a real supply. Emulation without
hardware virtualisation makes everything some tens of times slower than on a laptop: reaction times here say nothing about
those. Of the firmware's reset reasons and of watchdogs there are none here. The crash store is ACPI ERST, as servers have
it; laptops have UEFI variables, which the kernel offers through the same pstore.
"""
import argparse
import base64
import dataclasses
import datetime
import io
import json
import os
import pathlib
import platform
import random
import re
import shutil
import signal
import statistics
import subprocess
import sys
import tarfile
import tempfile
import time

import machine
import trial
from emulated_stick import Tally, the_one
from machine import Disk, GuestError, Machine

TOP = pathlib.Path(__file__).resolve().parent.parent
AGENT = "/opt/loadwitness/loadwitness-agent"
RUNS = "/var/lib/trial"
CURRENT = f"{RUNS}/current"  # names the folder of the run that is resumed at each boot; absent if there is none
RESUME = "trial-resume.service"
PERIOD_SECONDS = 0.1
SOAK_SECONDS = 600
TAIL_BYTES = 67  # of a line: 64 digits of the chain, quote, brace, line feed

WITNESS = """\
[Unit]
Description=Carries to the host what the witness says
DefaultDependencies=no
After=local-fs.target
Before=sysinit.target

[Service]
ExecStartPre=/bin/sh -c 'mkfifo -m 622 /run/witness; stty -F /dev/ttyS2 raw'
ExecStart=/bin/sh -c 'exec cat <>/run/witness >/dev/ttyS2'

[Install]
WantedBy=sysinit.target
"""

AS_SHOWN = "/root/resume-as-shown.sh"
# Agrees to whatever it is shown, as no person should: the log is this script's own.
AGREES = f"""\
folder=$(cat {CURRENT})
shown=$({AGENT} resume "$folder")
status=$?
printf '%s\\n' "$shown"
digest=$(printf '%s\\n' "$shown" | sed -n 's/.*--as-shown \\([0-9a-f]\\{{64\\}}\\).*/\\1/p')
[ -n "$digest" ] || exit $status
exec {AGENT} resume "$folder" --attended --as-shown "$digest"
"""
# In place of the person who calls it: as early as a boot can, so that little is written between death and record.
RESUMES = f"""\
[Unit]
Description=Calls resume for the run that broke off
ConditionPathExists={CURRENT}
DefaultDependencies=no
After=local-fs.target systemd-journald.socket witness.service
Before=multi-user.target shutdown.target
Conflicts=shutdown.target

[Service]
Type=exec
ExecStart=/bin/sh {AS_SHOWN}
KillMode=mixed
TimeoutStopSec=100
StandardOutput=journal+console
StandardError=journal+console

[Install]
WantedBy=multi-user.target
"""

# Nothing that a boot's end or a run is recorded by: logins on screens, and what works in the background at its own time.
MASKED = ["getty.target", "apt-daily.timer", "apt-daily-upgrade.timer", "dpkg-db-backup.timer", "e2scrub_all.timer",
          "e2scrub_reap.service", "fstrim.timer"]

CONTROL = "control without force, lost of what was called durable"

POWER_CUT_EXCLUDES = {"kernel-crash", "orderly-shutdown", "orderly-restart", "agent-killed", "agent-crashed"}
OF_THE_MACHINE = {"power-loss", "hard-hang", "firmware-reset", "watchdog-reset", "kernel-crash", "thermal-trip",
                  "power-button-held"}


@dataclasses.dataclass
class Forced:
    """One force of a run log that the guest saw succeed."""
    guest_time: float
    bytes: int
    chain: str

    def is_in(self, log):
        return log[self.bytes - TAIL_BYTES:self.bytes - 3].decode(errors="replace") == self.chain


@dataclasses.dataclass
class Offset:
    """This machine's clock less the guest's, in seconds: between two values."""
    low: float
    high: float


@dataclasses.dataclass
class Death:
    """One line of the table."""
    what: str
    seed: str = ""
    log: str = ""
    forces: int = 0
    lost: int = 0
    before_ms: float = None
    interval: float = None
    inside: bool = None
    shown: dict = dataclasses.field(default_factory=dict)
    open: dict = dataclasses.field(default_factory=dict)
    excluded: dict = dataclasses.field(default_factory=dict)
    closed: str = ""
    verdict: str = ""
    facts: dict = dataclasses.field(default_factory=dict)
    as_expected: bool = False


class Log:
    """A run's log as fetched from the guest, read by docs/examples/read_run.py and not by ours."""

    def __init__(self, guest, folder, bundle):
        # The copy first: a run that goes on writes to its log meanwhile.
        packed = guest.sh(f"rm -rf /run/log-copy; mkdir /run/log-copy; cp '{folder}'/run*.jsonl /run/log-copy;"
                          " cd /run/log-copy && tar -cf - *.jsonl | gzip -1 | base64 -w 0",
                          timeout=guest.patience(30)).output
        with tempfile.TemporaryDirectory(prefix="deaths-log-") as here:
            here = pathlib.Path(here)
            with tarfile.open(fileobj=io.BytesIO(base64.b64decode(packed)), mode="r:gz") as archive:
                archive.extractall(here, filter="data")
            self.bytes = (here / "run.jsonl").read_bytes()
            self.files = sorted(file.name for file in here.glob("run*.jsonl"))
            read = subprocess.run(
                [sys.executable, str(TOP / "docs/examples/read_run.py"), "--json", str(here / "run.jsonl")],
                capture_output=True, text=True, timeout=60, check=False)
            self.problem = read.stderr
            try:
                self.summary = json.loads(read.stdout)
            except ValueError:
                self.summary = None
            judged = subprocess.run(
                ["sh", str(bundle / "loadwitness-reporter"), "judge", "--json", str(here / "run.jsonl")],
                capture_output=True, text=True, timeout=120, check=False)
            try:
                self.verdict = json.loads(judged.stdout)
            except ValueError:
                self.verdict = {"sentence": judged.stderr or judged.stdout, "findings": []}
            self.records = []
            for file in sorted(here.glob("run*.jsonl"), key=lambda file: (len(file.name), file.name)):
                for line in file.read_bytes().splitlines():
                    try:
                        self.records.append(json.loads(line))
                    except ValueError:
                        pass  # what is torn is in the summary

    def of(self, kind, segment):
        return [record for record in self.records if record["type"] == kind and record.get("seg") == segment]

    def damages(self):
        return [damage for damage in self.summary["damages"] if damage["kind"] != "torn-tail"]

    def close(self):
        return next((record for record in self.records if record["type"] == "close"), None)

    def said(self):
        """What the reporter makes of it."""
        found = next((f for f in self.verdict["findings"] if f["criterion"] == "interruptions"), None)
        return f"{found['outcome']}: {found['because']}" if found else self.verdict["sentence"]

    def said_of_death(self):
        """What it says of when the machine died."""
        found = next((f for f in self.verdict["findings"] if f["criterion"] == "interruptions"), {})
        rows = [row for table in found.get("tables", []) for row in table["rows"]]
        return next((row[1] for row in rows if row[0] == "time"), "")


def seconds(utc):
    return datetime.datetime.strptime(utc, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=datetime.timezone.utc).timestamp()


class Bench:
    """The machine under test, and what the host hears from it."""

    def __init__(self, guest, forces, bundle, tally, deaths):
        self.guest, self._forces, self.bundle, self.tally, self.deaths = guest, forces, bundle, tally, deaths
        self._heard_before = 0

    def forces(self):
        """What was heard of the run that was begun last."""
        text = self._forces.read_text(encoding="ascii", errors="replace")
        lines = text.splitlines() if text.endswith("\n") else text.splitlines()[:-1]
        heard = [re.fullmatch(r"(\d+\.\d{9}) (\d+) ([0-9a-f]{64})", line) for line in lines]
        found = [Forced(float(m[1]), int(m[2]), m[3]) for m in heard if m]
        return found[self._heard_before:]

    def heard(self, count, timeout, what):
        """Waits here, at no cost to the guest, until it has forced so often."""
        end = time.monotonic() + timeout
        while len(self.forces()) < count:
            if time.monotonic() > end:
                raise GuestError(f"not within {timeout:.0f} s: {what}; {len(self.forces())} forces heard\n"
                                 f"{self.guest.console()}")
            time.sleep(0.01)

    def begin(self, name, procedure="stop"):
        """Starts a run that is resumed at each boot, and returns its folder when it is under load."""
        self.forget()
        folder = f"{RUNS}/{name}"
        self._heard_before += len(self.forces())
        self.guest.sh(f"echo {folder} >{CURRENT}; sync", timeout=self.guest.patience(20))
        self.guest.start(name, f"exec {AGENT} run --attended --procedure /root/{procedure}.yaml --out {folder}")
        self.heard(15, self.guest.patience(60), f"the run {name} has begun\n{self.guest.output(name)}")
        try:
            self.guest.until(
                f"grep -q '\"stage-begin\".*cpu-soak' {folder}/run.jsonl 2>/dev/null || test -e /run/machine/{name}.status",
                self.guest.patience(40), f"{name} is under load", every=1)
        except GuestError as trouble:
            raise GuestError(f"{trouble}\n{self.guest.output(name)}") from None
        if not self.guest.running(name):
            raise GuestError(f"the run {name} ended before its load began:\n{self.guest.output(name)}")
        return folder

    def agents(self):
        return self.guest.sh(
            "for p in /proc/[0-9]*; do tr '\\0' ' ' <$p/cmdline 2>/dev/null | grep -q 'loadwitness-agent.jar run '"
            " && basename $p; done; true").output.split()

    def freeze(self):
        """The agent stands still; a SIGSTOP would not do, for systemd-shutdown sends SIGCONT with its SIGTERM."""
        group = "/sys/fs/cgroup/frozen"
        self.guest.sh(f"mkdir -p {group} && for p in {' '.join(self.agents())}; do echo $p >{group}/cgroup.procs; done"
                      f" && echo 1 >{group}/cgroup.freeze")
        self.guest.until(f"grep -q 'frozen 1' {group}/cgroup.events", self.guest.patience(10), "the agent stands still")

    def offset(self):
        """Asks for the guest's time; each answer narrows it."""
        low, high = float("-inf"), float("inf")
        for _ in range(4):
            asked = time.time()
            told = float(self.guest.sh("date +%s.%N").output)
            answered = time.time()
            low, high = max(low, asked - told), min(high, answered - told)
        return Offset(low, high)

    def resumed(self, folder, segment=None):
        """Waits until resume has closed the log, or taken samples in that segment."""
        what = '"type":"close"' if segment is None else f'"type":"sample","seg":{segment},'
        try:
            self.guest.until(f"grep -q '{what}' {folder}/run.jsonl", self.guest.patience(60),
                             f"resume has run in {folder}", every=1)
        except GuestError as trouble:
            said = self.guest.sh(
                f"journalctl -b --no-pager | grep -iE 'loadwitness|resume' | tail -n 20; ls -la {folder};"
                f" tail -n 3 {folder}/run.jsonl | cut -c1-600; systemctl status --no-pager -l {RESUME}",
                check=False, timeout=self.guest.patience(20)).output
            raise GuestError(f"{trouble}\n{said}") from None

    def under_load(self, folder, segment):
        self.guest.until(
            f"grep -q '\"type\":\"event\",\"seg\":{segment},.*\"stage-begin\".*cpu-soak' {folder}/run.jsonl",
            self.guest.patience(40), f"the run in {folder} is under load again", every=1)

    def end(self, folder):
        """Ends a run that goes on."""
        self.guest.sh(f"systemctl stop {RESUME}", timeout=self.guest.patience(40))
        self.resumed(folder)
        self.forget()

    def forget(self):
        """No boot resumes a run any more; what resume is still doing ends first."""
        self.guest.until(f"case $(systemctl is-active {RESUME}) in active|activating|deactivating) false;; esac",
                         self.guest.patience(60), "resume has come to its end", every=1)
        self.guest.sh(f"rm -f {CURRENT}; sync", timeout=self.guest.patience(20))

    def record(self, death, folder, forces, killed, offset_before, segment=1):
        """Reads what was recorded of a death, and fills the line of the table."""
        log = Log(self.guest, folder, self.bundle)
        name = death.what
        death.log = pathlib.PurePosixPath(folder).name
        self.deaths.append(death)
        self.tally.check(f"{name}: the log is readable", log.summary is not None, log.problem)
        if log.summary is None:
            return log
        self.tally.check(f"{name}: nothing but a torn tail is damaged", not log.damages(), log.summary["damages"])
        death.forces = len(forces)
        death.lost = sum(not forced.is_in(log.bytes) for forced in forces)
        boots = log.of("boot", segment)
        self.tally.check(f"{name}: the death is recorded", len(boots) == 1, log.summary)
        if not boots:
            return log
        samples = log.of("sample", segment - 1)
        evidence = log.of("boot-evidence", segment)
        self.tally.check(f"{name}: its evidence is recorded", len(evidence) == 1, [r["type"] for r in log.records][-8:])
        death.facts = evidence[0]["facts"] if evidence else {}
        self._classify(death)
        death.closed = (log.close() or {}).get("reason", "open")
        death.verdict = log.said()
        if killed and samples:
            last, first = seconds(samples[-1]["utc"]), seconds(boots[0]["utc"])
            if "off-seconds" in death.facts:
                first = min(first, last + float(death.facts["off-seconds"]))
            after = self.offset()
            # In the guest's clock before, and after, as late and as early as the measured offsets allow.
            latest, earliest = killed[1] - offset_before.low, killed[0] - after.high
            death.before_ms = 1000 * ((killed[0] + killed[1]) / 2 - (offset_before.low + offset_before.high) / 2 - last)
            death.interval = first - last
            death.inside = last <= latest + 0.001 and earliest <= first
            self.tally.check(
                f"{name}: the true time lies inside the interval ({death.before_ms:.0f} ms after the last sample,"
                f" {death.interval:.1f} s long, guest's clock known to {1000 * (offset_before.high - offset_before.low):.0f} ms)",
                death.inside, f"last sample {last}, true {killed} less {offset_before}, first evidence {first}; after: {after}")
        return log

    def _classify(self, death):
        jar = the_one(self.bundle / "lib", "loadwitness-reporter*.jar")
        said = subprocess.run(
            ["java", "-cp", str(jar), str(TOP / "checks/machine/EndingOf.java")],
            input="".join(f"{key}\t{value}\n" for key, value in death.facts.items()),
            capture_output=True, text=True, timeout=120, check=False)
        if said.returncode != 0:
            raise GuestError(f"the facts cannot be classified: {said.stderr}")
        for line in said.stdout.splitlines():
            how, cause, why = line.split("\t")
            getattr(death, how)[cause] = why

    def expect(self, death, *, shown=(), not_excluded=(), excluded=(), closed="interrupted"):
        """Compares with what really happened; `excluded` are causes that must be, others may be, too."""
        held = {
            "shown": set(death.shown) >= set(shown),
            "not excluded": not set(not_excluded) & set(death.excluded),
            "excluded": set(excluded) <= set(death.excluded),
            "closed": death.closed == closed,
        }
        death.as_expected = all(held.values()) and death.lost == 0 and death.inside is not False
        self.tally.check(f"{death.what}: told for what it was", all(held.values()), {
            "held": held, "shown": death.shown, "open": death.open, "excluded": death.excluded, "closed": death.closed,
            "facts": death.facts})
        self.tally.check(f"{death.what}: no acknowledged record is lost (of {death.forces} forces heard)",
                         death.forces > 0 and death.lost == 0, f"{death.lost} lost")


def kill(bench, seed, after):
    """Cuts the power at a moment that the seed decides, and switches on again."""
    moments = random.Random(seed)
    time.sleep(moments.uniform(*after))
    offset = bench.offset()
    time.sleep(moments.uniform(0, 1))
    killed = bench.guest.kill()
    forces = bench.forces()
    bench.guest.boot()
    return forces, killed, offset


def kills(bench, count, source):
    """The first ends its run, by the rule of its procedure; the others strike runs that go on by themselves at each boot."""
    folder = segment = None
    for number in range(1, count + 1):
        seed = source.randrange(1 << 32)
        first = number == 1
        if first:
            folder, segment = bench.begin("kill-1"), 0
        elif folder is None:
            folder, segment = bench.begin(f"kill-{number}", "go-on"), 0
        else:
            bench.under_load(folder, segment)
        forces, killed, offset = kill(bench, seed, (1.0, 15.0))
        # A call that shows what it goes on with, and one that agrees to it and goes on, in a segment of its own.
        segment += 1
        bench.resumed(folder, *(() if first else (segment + 1,)))
        death = Death(f"hard kill {number}", str(seed))
        bench.record(death, folder, forces, killed, offset, segment)
        bench.expect(death, not_excluded=["power-loss"], excluded=POWER_CUT_EXCLUDES,
                     closed="interrupted" if first else "open")
        segment += 0 if first else 1
        # Longer, the log takes too long to be fetched after each kill.
        if first or segment >= 18 or number == count:
            if not first:
                bench.end(folder)
            folder = None


def control(bench, source):
    """Nothing is forced, and the guest says that it was: records must be missing, or the check above shows nothing."""
    bench.guest.sh("echo /usr/local/lib/witness-without-force.so >/etc/ld.so.preload; sync", timeout=60)
    folder = bench.begin("control")
    forces, _, _ = kill(bench, source.randrange(1 << 32), (1.0, 15.0))
    bench.guest.sh("echo /usr/local/lib/witness.so >/etc/ld.so.preload; sync", timeout=60)
    left = bench.guest.sh(f"base64 -w 0 {folder}/run.jsonl", timeout=bench.guest.patience(30), check=False)
    data = base64.b64decode(left.output) if left.status == 0 else b""
    lost = sum(not forced.is_in(data) for forced in forces)
    bench.tally.measure(CONTROL, f"{lost} of {len(forces)}")
    bench.tally.check(f"control without force: records are lost ({lost} of {len(forces)} forces)", lost > 0)
    bench.forget()


def reset(bench):
    folder = bench.begin("reset")
    time.sleep(4)
    offset = bench.offset()
    before = time.time()
    # What follows is the next boot's; what was heard up to here is what was durable.
    forces = bench.forces()
    bench.guest.reset()
    bench.resumed(folder)
    death = Death("hard reset from outside")
    bench.record(death, folder, forces, (before, before + 0.5), offset)
    bench.expect(death, not_excluded=["power-loss", "firmware-reset"], excluded=POWER_CUT_EXCLUDES)


def crash(bench):
    folder = bench.begin("crash")
    time.sleep(4)
    offset = bench.offset()
    forces = bench.forces()
    before = time.time()
    bench.guest.start("sysrq", "echo c >/proc/sysrq-trigger")
    bench.guest.wait_reboot()
    bench.resumed(folder)
    death = Death("kernel crash (sysrq c)")
    bench.record(death, folder, forces, (before, before + 2), offset)
    bench.expect(death, shown=["kernel-crash"], excluded={"orderly-shutdown", "orderly-restart", "agent-killed", "agent-crashed"})


def orderly(bench, what, command, comes_back, cause):
    """Twice: the agent closes its log when the system tells it to end, or stands still and cannot."""
    def down():
        bench.guest.start("down", command)
        if comes_back:
            bench.guest.wait_reboot()
        else:
            bench.guest.wait_off()
            bench.guest.boot()

    folder = bench.begin(f"{what}-closed")
    down()
    bench.resumed(folder)
    log = Log(bench.guest, folder, bench.bundle)
    death = Death(f"{command}, the agent closes its log", closed=log.close()["reason"], verdict=log.said())
    bench.deaths.append(death)
    death.as_expected = death.closed == "operator-stop" and not log.of("boot", 1)
    bench.tally.check(f"{death.what}: closed before the end, not an interruption", death.as_expected, log.records[-1])

    folder = bench.begin(f"{what}-stuck")
    bench.freeze()
    forces = bench.forces()
    down()
    bench.resumed(folder)
    death = Death(f"{command}, the agent stands still")
    bench.record(death, folder, forces, None, None)
    bench.expect(death, shown=[cause], excluded={"power-loss", "kernel-crash", "agent-killed", "agent-crashed"})


def reboot(bench):
    orderly(bench, "reboot", "systemctl reboot", True, "orderly-restart")


def poweroff(bench):
    orderly(bench, "poweroff", "systemctl poweroff", False, "orderly-shutdown")


def agent_killed(bench):
    folder = bench.begin("agent")
    time.sleep(4)
    forces = bench.forces()
    found = bench.agents()
    bench.tally.check("kill -9 of the agent: it is found", found, found)
    bench.guest.sh(f"kill -9 {' '.join(found)}")
    bench.guest.sh("sleep 8", timeout=60)  # its workers end by themselves
    done = bench.guest.sh(f"{AGENT} resume {folder}", timeout=bench.guest.patience(60), check=False)
    bench.resumed(folder)
    death = Death("kill -9 of the agent, then resume by hand")
    bench.record(death, folder, forces, None, None)
    bench.expect(death, not_excluded=["agent-killed"], excluded=OF_THE_MACHINE | {"orderly-shutdown", "orderly-restart"})
    bench.tally.measure("resume by hand", f"status {done.status}")


def restart_loop(bench):
    """Cut off in the soak, and then twice as soon as a force is heard, which is the boot record: no sample comes so soon."""
    folder = bench.begin("loop", "go-on")
    time.sleep(3)
    bench.guest.kill()
    for _ in range(2):
        before = len(bench.forces())
        bench.guest.boot(wait=False)
        bench.heard(before + 1, bench.guest.patience(60), "resume has written the boot record")
        bench.guest.kill()
    bench.guest.boot()
    forces = bench.forces()
    bench.resumed(folder)
    death = Death("restart loop: three kills, the last two before any sample")
    log = bench.record(death, folder, forces, None, None, segment=3)
    samples = [len(log.of("sample", segment)) for segment in range(4)]
    bench.tally.check(f"{death.what}: there were samples before, and none since ({samples})",
                      samples[0] > 0 and not any(samples[1:]), samples)
    bench.expect(death, not_excluded=["power-loss"], excluded=POWER_CUT_EXCLUDES, closed="restart-loop")


def flat_battery(bench):
    """The power goes, and the clock chip's battery is flat: usual on a board that lay without its main battery."""
    folder = bench.begin("clock")
    time.sleep(4)
    # The journal of a boot of a few minutes can be lost as a whole; here it is the clock that is tried.
    bench.guest.sh("journalctl --sync", timeout=bench.guest.patience(20))
    bench.guest.kill()
    forces = bench.forces()
    bench.guest.boot(clock="2009-01-01T00:00:00")
    bench.resumed(folder)
    death = Death("power cut, and the clock chip starts at 2009")
    log = bench.record(death, folder, forces, None, None)
    last, boot = log.of("sample", 0)[-1], log.of("boot", 1)[0]
    years = (seconds(last["utc"]) - seconds(boot["utc"])) / (365.25 * 86400)
    bench.tally.check(f"{death.what}: the boot record has that clock's time, {years:.1f} years before the last sample",
                      years > 5, boot)
    bench.tally.check(f"{death.what}: it is said that the time of death is not known from that clock",
                      "clock" in log.said_of_death(), log.said_of_death())
    bench.expect(death, not_excluded=["power-loss"], excluded=POWER_CUT_EXCLUDES)
    # The true time again, or what comes after would find the journal in two orders.
    bench.guest.kill()
    bench.guest.boot()


# The crash leaves a record in the crash store, whose age nobody knows where the clock is wrong: so it comes after that.
SCENARIOS = ["kills", "control", "clock", "reset", "crash", "reboot", "poweroff", "agent", "loop"]


def procedure(on_interruption):
    text = trial.procedure(
        "deaths", "A soak in the middle of which the machine dies",
        [trial.stage("idle", "1 s", loaded=False), trial.stage("cpu-soak", f"{SOAK_SECONDS} s")], "100 ms", "70 %")
    return text.replace("sampling:", f"on-interruption: {on_interruption}\nsampling:", 1)


def furnished(work, agent):
    """The root's image: agent, witness, systemd with a journal that stays."""
    for name, flags in (("witness", []), ("witness-without-force", ["-DWITHOUT_FORCE"])):
        machine.build.run("gcc", "-Wall", "-Wextra", "-Werror", "-O2", "-shared", "-fPIC", *flags,
                          "-o", work / f"{name}.so", TOP / "checks/machine/guest_witness.c")

    def furnish(tree):
        machine.build.run("cp", "-a", agent, tree / "opt/loadwitness")
        machine.build.run("chown", "-R", "0:0", tree / "opt/loadwitness")
        for name in ("witness", "witness-without-force"):
            shutil.copy(work / f"{name}.so", tree / "usr/local/lib")
        (tree / "etc/ld.so.preload").write_text("/usr/local/lib/witness.so\n", encoding="ascii")
        units = tree / "etc/systemd/system"
        for unit, text, wanted_by in (("witness.service", WITNESS, "sysinit.target"), (RESUME, RESUMES, "multi-user.target")):
            (units / unit).write_text(text, encoding="ascii")
            wants = units / f"{wanted_by}.wants"
            wants.mkdir(exist_ok=True)
            (wants / unit).symlink_to(f"../{unit}")
        for unit in MASKED:
            (units / unit).unlink(missing_ok=True)
            (units / unit).symlink_to("/dev/null")
        (tree / "var/log/journal").mkdir(exist_ok=True)
        # An agent that does not end when it is told to is waited for less long than the usual 90 s.
        (tree / "etc/systemd/system.conf.d").mkdir()
        (tree / "etc/systemd/system.conf.d/trial.conf").write_text(
            "[Manager]\nDefaultTimeoutStopSec=15s\nDefaultTimeoutStartSec=600s\n", encoding="ascii")
        # systemd lifts a clock to the day on which it was built, which would hide how wrong the chip is; not every system does.
        epoch = tree / "usr/lib/clock-epoch"
        epoch.touch()
        os.utime(epoch, (0, 0))
        (tree / RUNS.lstrip("/")).mkdir(parents=True)
        for word in ("stop", "go-on"):
            (tree / f"root/{word}.yaml").write_text(procedure(word), encoding="utf-8")
        (tree / AS_SHOWN.lstrip("/")).write_text(AGREES, encoding="ascii")

    return machine.furnished_root(work / "root.ext4", furnish, ["systemd-sysv"])


def check(arguments, tally, work, deaths):
    full = the_one(arguments.bundle, "loadwitness-[0-9]*-linux-x64")
    agent = the_one(arguments.bundle, "loadwitness-agent-*-linux-x64")
    begin = tally.seconds()
    image = furnished(work, agent)
    tally.measure("root made, s", f"{tally.seconds() - begin:.0f}")
    (work / "erst").write_bytes(bytes(256 << 10))
    (work / "forces").touch()
    devices = [
        "-chardev", f"file,id=witness,path={work}/forces,append=on", "-serial", "chardev:witness",
        "-object", f"memory-backend-file,id=erst,mem-path={work}/erst,size=256K,share=on", "-device", "acpi-erst,memdev=erst",
    ]
    source = random.Random(arguments.seed)
    with Machine(Disk(image, keep=True), accel=arguments.accel, devices=devices) as guest:
        tally.measure("accelerator", guest.accel)
        tally.measure("first boot, s", f"{guest.boot_seconds:.1f}")
        tally.measure("kernel", guest.sh("uname -rv").output.strip())
        store = guest.sh("cat /sys/module/pstore/parameters/backend; ls /sys/fs/pstore", check=False).output
        tally.check("the guest's kernel has a crash store, and it is empty", store.split() == ["erst"], store)
        bench = Bench(guest, work / "forces", full, tally, deaths)
        steps = {
            "kills": lambda: kills(bench, arguments.kills, source), "control": lambda: control(bench, source),
            "reset": lambda: reset(bench), "crash": lambda: crash(bench), "reboot": lambda: reboot(bench),
            "poweroff": lambda: poweroff(bench), "agent": lambda: agent_killed(bench),
            "loop": lambda: restart_loop(bench), "clock": lambda: flat_battery(bench),
        }
        for name in arguments.parts:
            begin = tally.seconds()
            try:
                steps[name]()
            except (GuestError, OSError, ValueError, tarfile.TarError, subprocess.SubprocessError) as trouble:
                tally.check(f"{name}: the check itself could go on", False, repr(trouble) + f"\n{trouble}")
                guest.kill()
                guest.boot()
                guest.sh(f"systemctl stop {RESUME}; rm -f {CURRENT}; sync", timeout=guest.patience(60), check=False)
            tally.measure(f"{name}, s", f"{tally.seconds() - begin:.0f}")


CAVEATS = """\
What this shows and what not: killing QEMU drops what the guest's kernel had not yet sent to its disk. It does not drop a
real disk's own volatile cache, tears no sector, and has none of the brown-out of a real supply. Emulated without hardware
virtualisation, the machine is some tens of times slower than a laptop, so how long a boot or a record takes here says
nothing about one; and how late the last sample is before a death includes what that slowness adds. The crash store is
ACPI ERST (QEMU's `acpi-erst`), as servers have it; laptops have UEFI variables, behind the same pstore. There is no
watchdog and no firmware that tells a reset reason: so a cut of the power and a reset from outside leave the same evidence,
and the same causes stay open. How the host knows what was acknowledged and when the machine died stands at the head of
the script.
"""


def last_of_each_log(deaths):
    """Forces heard by the last death of each log, which count those before."""
    return {death.log: death.forces for death in deaths}


def table(deaths, arguments, tally):
    """The result as a document."""
    kills_made = [death for death in deaths if death.what.startswith("hard kill")]
    measured = [death.before_ms for death in kills_made if death.before_ms is not None]
    lines = [
        "# Trial of real deaths", "",
        f"Written by `checks/emulated_deaths.py --seed {arguments.seed} --kills {arguments.kills} --parts"
        f" {','.join(arguments.parts)}` on {datetime.datetime.now(datetime.timezone.utc):%Y-%m-%d}. Not written by hand.", "",
        f"- Machine: QEMU ({tally.measures.get('accelerator')}) on {platform.machine()},"
        f" {len(os.sched_getaffinity(0))} processors shared with other work; load average"
        f" {' / '.join(f'{load:.0f}' for load in os.getloadavg())} at the end.",
        f"- Guest: Linux {tally.measures.get('kernel')}; Debian {machine.build.SUITE}'s systemd, persistent journal, ext4.",
        f"- Hard kills told as they should be: {sum(death.as_expected for death in kills_made)} of {len(kills_made)}.",
        f"- Acknowledgements heard before hard kills: {sum(last_of_each_log(kills_made).values())}; of these lost:"
        f" {sum(d.lost for d in kills_made)}. All of a log's were looked up again after each further kill of it.",
    ]
    if measured:
        lines.append(f"- From the last durable sample to the death: median {statistics.median(measured):.0f} ms, longest"
                     f" {max(measured):.0f} ms, at one sample each {PERIOD_SECONDS * 1000:.0f} ms.")
    if CONTROL in tally.measures:
        lines.append(f"- {CONTROL[0].upper()}{CONTROL[1:]}: {tally.measures[CONTROL]}, so the trial can fail.")
    lines += [f"- Checks that failed: {tally.failed}.",
              "- Each run but the one resumed by hand was taken up by a systemd unit of the script's, which called `resume` at the"
              " boot.", "", CAVEATS,
              "| death | log | seed | acknowledged in that log | lost | after the last sample, ms | interval, s | shown | open | excluded"
              " | closed as | as it should be |",
              "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"]
    for d in deaths:
        before = "" if d.before_ms is None else f"{d.before_ms:.0f}"
        interval = "" if d.interval is None else f"{d.interval:.1f}"
        closed = "not closed: it goes on" if d.closed == "open" else d.closed
        lines.append(f"| {d.what} | {d.log} | {d.seed} | {d.forces} | {d.lost} | {before} | {interval} | {', '.join(d.shown)} |"
                     f" {', '.join(d.open)} | {', '.join(d.excluded)} | {closed} | {'yes' if d.as_expected else 'NO'} |")
    lines += ["", "What the reporter says of each log, once its last death was recorded (with several deaths, of the first):", ""]
    lines += [f"- {log}: {verdict}" for log, verdict in {d.log or d.what: d.verdict for d in deaths}.items()]
    return "\n".join(lines) + "\n"


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--bundle", type=pathlib.Path, default=TOP / "target/bundle", help="what bundle/build made")
    parser.add_argument("--accel", choices=["kvm", "tcg"], help="default: what works here")
    parser.add_argument("--kills", type=int, default=3, help="how many hard kills (default: 3; the whole trial: 20)")
    parser.add_argument("--short", action="store_true", help="one hard kill and one kernel crash")
    parser.add_argument("--parts", default=",".join(SCENARIOS), help=f"which of {','.join(SCENARIOS)} (default: all)")
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(1 << 32), help="of the moments of the kills")
    parser.add_argument("--table", type=pathlib.Path, help="write the result here, as Markdown")
    arguments = parser.parse_args()
    if arguments.short:
        arguments.kills, arguments.parts = 1, "kills,crash"
    arguments.parts = arguments.parts.split(",")
    if set(arguments.parts) - set(SCENARIOS):
        parser.error(f"--parts takes {', '.join(SCENARIOS)}, separated by commas")
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that no emulator is left running
    print(f"seed {arguments.seed}", flush=True)
    tally = Tally()
    deaths = []
    try:
        with tempfile.TemporaryDirectory(prefix="emulated-deaths-") as work:
            try:
                check(arguments, tally, pathlib.Path(work), deaths)
            except (GuestError, machine.build.BuildError) as trouble:
                tally.check("the check itself could go on", False, trouble)
        tally.measure("this script, s", f"{tally.seconds():.0f}")
        for name, value in tally.measures.items():
            print(f"{name:60} {value}")
    finally:  # what was seen before an interruption was seen
        result = table(deaths, arguments, tally)
        print(result, flush=True)
        if arguments.table:
            arguments.table.write_text(result, encoding="utf-8")
    print(f"{tally.failed} failed" if tally.failed else "all is as it should be")
    return 1 if tally.failed else 0


if __name__ == "__main__":
    sys.exit(main())
