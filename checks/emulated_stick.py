#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The bundle on a USB stick, in an emulated machine that has no Java: pulled, filled, turned read-only, and as it should be.

Needs what bundle/build made, root rights for debootstrap (once; see LOADWITNESS_MACHINE_CACHE in machine/build.py), and the
Debian packages qemu-system-x86 busybox-static debootstrap dosfstools mtools. Uses hardware virtualisation where it works.
Exit status 0 if all is as it should be, 1 if not. A guest that hangs is killed, and its console's last lines are shown.

What this shows and what not. The stick is gone for the guest's kernel as a pulled one is: its USB device is removed without
a word. But its image is a file of this machine, so what the guest had sent to the stick is there when it is plugged in
again; a real stick that loses its supply while it writes can lose more, or garble pages that were at rest. Killing QEMU
likewise drops what the guest's kernel had not yet sent out; it does not drop a real disk's own volatile cache. And an
emulated machine has none of a laptop's sensors, batteries, or desktop that mounts sticks by itself: the desktop's mount
options are given here by hand, from memory (udisks: showexec, flush, utf8, the user's own ids).
"""
import argparse
import base64
import dataclasses
import io
import json
import pathlib
import re
import subprocess
import sys
import tarfile
import tempfile
import time

import machine
import trial
from machine import Disk, FatStick, GuestError, Machine, blank_stick, ext4_of

TOP = pathlib.Path(__file__).resolve().parent.parent
STICK = "/mnt/stick"
BUNDLE = "/mnt/bundle"
PERIOD_SECONDS = 0.5
# Longer than the sampler is ever late on a loaded emulated machine, shorter than any of the troubles made here.
LONGEST_UNNAMED_GAP_SECONDS = 4
TROUBLE_SECONDS = 8

def short(seconds):
    return trial.procedure(
        "emulated", "Some seconds of load in an emulated machine",
        [trial.stage("idle", "1 s", loaded=False), trial.stage("cpu-soak", f"{seconds} s")],
        "500 ms", "70 %", f"{seconds} s")


class Tally:
    def __init__(self):
        self.failed = 0
        self.measures = {}
        self._begin = time.monotonic()

    def check(self, name, condition, detail=""):
        print(f"{time.monotonic() - self._begin:6.0f} s  {'ok    ' if condition else 'FAILED'}  {name}", flush=True)
        if not condition:
            self.failed += 1
            print("\n".join("            " + line for line in str(detail)[-4000:].splitlines()), flush=True)

    def measure(self, name, value):
        self.measures[name] = value

    def seconds(self):
        return time.monotonic() - self._begin


@dataclasses.dataclass
class Log:
    """A run's log as fetched from the guest, read by docs/examples/read_run.py and not by ours."""
    summary: dict
    records: list

    def close_reason(self):
        return next((record.get("reason") for record in self.records if record["type"] == "close"), None)

    def damages(self):
        return [damage for damage in self.summary["damages"] if damage["kind"] != "torn-tail"]

    def events(self, kind):
        return [record for record in self.records if record["type"] == "event" and record["kind"] == kind]

    def gaps(self):
        """Stretches of more than the limit without a sample, as (from, to) in seconds of the run."""
        times = [record["t"] / 1e9 for record in self.records if record["type"] == "sample"]
        return [(a, b) for a, b in zip(times, times[1:]) if b - a > LONGEST_UNNAMED_GAP_SECONDS]

    def unnamed_gaps(self):
        """Gaps that no samples-dropped event speaks of."""
        named = [record["t"] / 1e9 for record in self.events("samples-dropped")]
        return [(a, b) for a, b in self.gaps() if not any(a <= at <= b + LONGEST_UNNAMED_GAP_SECONDS for at in named)]


def call(*arguments, user=None, environment="", folder="/"):
    """A shell line that runs a program with an environment of nothing but PATH and what is given."""
    words = " ".join(f"'{word}'" for word in arguments)
    become = f"setpriv --reuid={user} --regid={user} --clear-groups " if user else ""
    return f"cd {folder} && exec {become}env -i PATH=/usr/bin:/bin {environment} {words}"


def fetch(guest, folder):
    """Copies a run's folder out of the guest and reads it with the example reader."""
    packed = guest.sh(f"cd '{folder}' && tar -cf - *.jsonl | gzip -1 | base64 -w 0", timeout=guest.patience(30)).output
    with tempfile.TemporaryDirectory() as here:
        with tarfile.open(fileobj=io.BytesIO(base64.b64decode(packed)), mode="r:gz") as archive:
            archive.extractall(here, filter="data")
        files = sorted(pathlib.Path(here).glob("run*.jsonl"), key=lambda file: (len(file.name), file.name))
        read = subprocess.run(
            [sys.executable, str(TOP / "docs/examples/read_run.py"), "--json", str(pathlib.Path(here) / "run.jsonl")],
            capture_output=True, text=True, timeout=60, check=False)
        try:
            summary = json.loads(read.stdout)
        except ValueError:
            raise GuestError(f"read_run.py cannot read the log: {read.stderr or read.stdout}") from None
        records = []
        for file in files:
            for line in file.read_bytes().splitlines():
                try:
                    records.append(json.loads(line))
                except ValueError:
                    pass  # what is torn is in the summary
    return Log(summary, records)


def judge(guest, folder):
    done = guest.sh(call("sh", f"{BUNDLE}/full/loadwitness-reporter", "judge", "--json", f"{folder}/run.jsonl"),
                    timeout=guest.patience(60), check=False)
    try:
        return done.status, json.loads(done.output)
    except ValueError:
        return done.status, {"sentence": done.output}


class Stick:
    """A stick in the guest with the agent on it, mounted as a desktop mounts it for its user."""

    def __init__(self, guest, kind, image, agent):
        self.guest, self.kind, self.image, self.agent = guest, kind, image, agent
        # showexec, as desktops give it: on FAT nothing is executable then but *.exe, *.com and *.bat.
        self.options = {"vfat": "showexec,flush,utf8,shortname=mixed,uid=1000,gid=1000,nosuid,nodev",
                        "exfat": "iocharset=utf8,uid=1000,gid=1000,nosuid,nodev"}[kind]

    def plug(self):
        device = self.guest.plug(self.image)
        self.mount(device)
        return device

    def mount(self, device):
        self.guest.sh(f"mkdir -p {STICK} && mount -t {self.kind} -o {self.options} {device} {STICK}",
                      timeout=self.guest.patience(20))

    def unmount(self):
        self.guest.sh(f"umount {STICK}", timeout=self.guest.patience(60))
        self.guest.unplug()

    def run_command(self, out, procedure):
        return call("sh", f"{STICK}/{self.agent}/loadwitness-agent", "run",
                    "--procedure", f"{BUNDLE}/{procedure}.yaml", "--out", f"{STICK}/{out}", user=1000)

    def begin_run(self, out, procedure="short"):
        """Starts a run with its log on the stick and waits until it is under load."""
        self.guest.start(out, self.run_command(out, procedure))
        try:
            self.guest.until(f"grep -q '\"stage-begin\".*cpu-soak' {STICK}/{out}/run.jsonl 2>/dev/null"
                             f" || test -e /run/machine/{out}.status",
                             self.guest.patience(40), f"the load of {out} begins")
        except GuestError as trouble:
            raise GuestError(f"{trouble}\n{self.guest.output(out)}") from None

    def end_run(self, tally, name, out, status=0):
        done = self.guest.wait(out, self.guest.patience(120))
        tally.check(f"{name}: the run goes on to its end", done.status == status,
                    f"status {done.status}, expected {status}\n{done.output}")
        return done


def whole(tally, name, guest, folder):
    """The log is readable by both readers, closed, undamaged, and every gap in it has a name."""
    try:
        log = fetch(guest, folder)
    except GuestError as trouble:
        tally.check(f"{name}: the log can be read", False, trouble)
        return
    tally.check(f"{name}: the log is closed as completed", log.close_reason() == "completed", log.summary)
    tally.check(f"{name}: nothing in the log is damaged", not log.damages(), log.summary)
    gaps = log.gaps()
    said = "no gap" if not gaps else "gaps " + ", ".join(f"{a:.1f} to {b:.1f} s" for a, b in gaps)
    tally.check(f"{name}: no gap without a name ({said}; {log.summary['records'].get('sample')} samples, "
                f"{len(log.summary['sha256'])} file(s))", not log.unnamed_gaps(), log.unnamed_gaps())
    status, verdict = judge(guest, folder)
    tally.check(f"{name}: judge reads it ({verdict.get('sentence')})", status in (0, 1, 2), verdict)


def probes(tally, stick):
    done = stick.guest.sh(
        call("sh", f"{STICK}/{stick.agent}/loadwitness-agent", "probe", "--out", STICK, user=1000),
        timeout=stick.guest.patience(60), check=False)
    tally.check(f"{stick.kind}: probe from the stick as the desktop's user", done.status == 0, done.output)
    tally.measure(f"probe from {stick.kind}, s", f"{done.seconds:.1f}")


def quick_run(tally, stick):
    out = "quick"
    stick.guest.start(out, stick.run_command(out, "minute"))
    stick.end_run(tally, f"{stick.kind}, a minute of quick-check", out)
    whole(tally, f"{stick.kind}, a minute of quick-check", stick.guest, f"{STICK}/{out}")
    left = stick.guest.sh("ls -A /dev/shm /tmp /home/bench").output
    tally.check(f"{stick.kind}: nothing of ours is left in memory or the home folder", not re.search("loadwitness|hsperfdata", left), left)


def pulled(tally, stick):
    name, out = f"{stick.kind}, pulled and plugged in again", "pulled"
    guest = stick.guest
    stick.begin_run(out)
    guest.unplug()
    tally.check(f"{name}: the device is gone", guest.sh("ls /dev/sd?", check=False).status != 0)
    # As desktops do it when a stick vanishes. What is left is an empty folder on the owner's disk.
    guest.sh(f"umount -l {STICK}")
    time.sleep(TROUBLE_SECONDS)
    left = guest.sh(f"ls -A {STICK}").output.strip()
    tally.check(f"{name}: nothing is written into the empty mount point", not left, left)
    tally.check(f"{name}: the run goes on without the stick", guest.running(out), guest.output(out))
    stick.plug()
    stick.end_run(tally, name, out)
    whole(tally, name, guest, f"{STICK}/{out}")


def pulled_and_still_mounted(tally, stick):
    """As the kernel alone leaves it: the dead file system stays in its place, opens, and fails while it is read."""
    name, out = f"{stick.kind}, pulled and left mounted", "stillthere"
    guest = stick.guest
    stick.begin_run(out)
    guest.unplug()
    # Else the kernel answers from memory as long as it has what it is asked for.
    guest.sh("echo 3 >/proc/sys/vm/drop_caches")
    tally.check(f"{name}: it is still mounted", guest.sh(f"grep -q ' {STICK} ' /proc/mounts", check=False).status == 0)
    time.sleep(TROUBLE_SECONDS)
    listed = guest.sh(f"ls -A {STICK}/{out}", check=False)
    tally.measure(f"{name}: what ls says of the dead folder", listed.output.strip().splitlines()[-1:])
    tally.check(f"{name}: the run goes on without the stick", guest.running(out), guest.output(out))
    tally.check(f"{name}: that is said", "NO LOG DISK" in guest.output(out), guest.output(out))
    # Now somebody tidies up, as a desktop does, and plugs it in again.
    guest.sh(f"umount -l {STICK}")
    stick.plug()
    stick.end_run(tally, name, out)
    whole(tally, name, guest, f"{STICK}/{out}")
    tally.check(f"{name}: no writer died", "LOG LOST" not in guest.output(out), guest.output(out))


def filled(tally, stick):
    name, out = f"{stick.kind}, full for a while", "filled"
    guest = stick.guest
    stick.begin_run(out)
    # Larger blocks first, then the rest; ends when the stick is full.
    guest.sh(f"dd if=/dev/zero of={STICK}/ballast bs=4M 2>/dev/null; dd if=/dev/zero of={STICK}/ballast2 bs=4k 2>/dev/null;"
             f" sync -f {STICK}", check=False, timeout=guest.patience(60))
    free = guest.sh(f"df --output=avail -B1 {STICK} | tail -n 1").output.strip()
    tally.check(f"{name}: the stick is full ({free} bytes free)", int(free) < 300_000, free)
    time.sleep(TROUBLE_SECONDS)
    tally.check(f"{name}: the run goes on", guest.running(out), guest.output(out))
    guest.sh(f"rm {STICK}/ballast {STICK}/ballast2", timeout=guest.patience(30))
    stick.end_run(tally, name, out)
    whole(tally, name, guest, f"{STICK}/{out}")


def read_only(tally, stick):
    name, out = f"{stick.kind}, read-only for a while", "readonly"
    guest = stick.guest
    stick.begin_run(out)
    # An ordinary remount is refused while a file is open for writing; this is the kernel's own, of all disks at once.
    guest.sh("echo u >/proc/sysrq-trigger")
    guest.until(f"grep -q ' {STICK} .* ro,' /proc/mounts", guest.patience(20), "the stick is read-only")
    time.sleep(TROUBLE_SECONDS)
    tally.check(f"{name}: the run goes on", guest.running(out), guest.output(out))
    guest.sh(f"mount -o remount,rw / && mount -o remount,rw {STICK}")
    stick.end_run(tally, name, out)
    whole(tally, name, guest, f"{STICK}/{out}")


def control(tally, stick):
    """The same pull with the program run from the stick itself must kill it, or the check above shows nothing."""
    guest, out = stick.guest, "control"
    home = f"{STICK}/{stick.agent}"
    guest.start(out, call(f"{home}/runtime/bin/java", "-Xshare:off", "-XX:-CreateCoredumpOnCrash",
                          f"-Djna.boot.library.path={home}/lib/native", "-Djna.nounpack=true",
                          "-jar", f"{home}/lib/loadwitness-agent.jar",
                          "run", "--procedure", f"{BUNDLE}/short.yaml", "--out", f"{STICK}/{out}", user=1000))
    guest.until(f"grep -q '\"stage-begin\".*cpu-soak' {STICK}/{out}/run.jsonl 2>/dev/null",
                guest.patience(40), "the control run is under load")
    guest.unplug()
    guest.sh(f"umount -l {STICK}; echo 3 >/proc/sys/vm/drop_caches")
    done = guest.wait(out, guest.patience(120))
    tally.check(f"{stick.kind}, control: run from the stick itself, the program dies with it", done.status != 0,
                f"status {done.status}\n{done.output}")
    guest.sh("sleep 8")  # its workers end by themselves
    stick.plug()


def from_disk(tally, guest, environments):
    """The whole bundle from an ordinary disk, for each kind of user and environment."""
    for number, (user, environment) in enumerate(environments):
        name = f"ext4, {'user' if user else 'root'}, {environment or 'nothing set'}"
        where = f"/tmp/disk{number}"
        guest.sh(f"mkdir {where}; chown {user or 0} {where}")

        def program(which, *arguments, timeout=90, extra=""):
            line = call(f"{BUNDLE}/full/loadwitness-{which}", *arguments, user=user, folder=where,
                        environment=f"{environment} {extra}")
            return guest.sh(line, timeout=guest.patience(timeout), check=False)

        done = program("agent", "probe")
        tally.check(f"{name}: probe", done.status == 0, done.output)
        done = program("agent", "run", "--procedure", f"{BUNDLE}/brief.yaml", "--out", f"{where}/run")
        tally.check(f"{name}: run", done.status == 0, done.output)
        done = program("reporter", "judge", f"{where}/run/run.jsonl")
        tally.check(f"{name}: judge", done.status == 0, done.output)
        secret = "LOADWITNESS_PASSPHRASE=not-a-secret-1234"
        done = program("reporter", "signing-key", "--out", f"{where}/key.p12", "--name", "Throw-away",
                       "--passphrase-env", "LOADWITNESS_PASSPHRASE", extra=secret)
        tally.check(f"{name}: signing-key", done.status == 0, done.output)
        done = program("reporter", "certify", f"{where}/run/run.jsonl", "--key", f"{where}/key.p12",
                       "--passphrase-env", "LOADWITNESS_PASSPHRASE", "--out", f"{where}/report.pdf", extra=secret)
        tally.check(f"{name}: certify", done.status == 0, done.output)
        tally.measure(f"certify as {'user' if user else 'root'}, s", f"{done.seconds:.1f}")
        done = program("reporter", "verify", f"{where}/report.pdf")
        tally.check(f"{name}: verify", done.status == 0, done.output)


def minute_of_quick_check():
    """The shipped procedure at half length."""
    text = (TOP / "thresholds/quick-check.yaml").read_text(encoding="utf-8")
    for key, long, short in (("duration", 60, 30), ("duration", 30, 15), ("duration", 10, 5), ("at-least", 50, 25)):
        text, count = re.subn(rf"^( +{key}:) {long} s\b", rf"\1 @{short} s", text, flags=re.M)
        if not count:
            raise SystemExit(f"thresholds/quick-check.yaml has no '{key}: {long} s' any more; adapt this check")
    return text.replace(" @", " ")


def the_one(folder, pattern):
    found = list(folder.glob(pattern))
    if len(found) != 1:
        raise SystemExit(f"{len(found)} of {pattern} in {folder}; make the bundle with bundle/build, or name it with --bundle")
    return found[0]


def check(arguments, tally, work):
    full = the_one(arguments.bundle, "loadwitness-[0-9]*-linux-x64")
    small = the_one(arguments.bundle, "loadwitness-agent-*-linux-x64.tar.xz")
    agent = small.name.removesuffix(".tar.xz")
    payload = work / "payload"
    payload.mkdir()
    machine.build.run("cp", "-a", full, payload / "full")
    with tarfile.open(small) as archive:
        archive.extractall(work, filter="data")
    for name, text in (("brief", short(5)), ("short", short(arguments.seconds)),
                       ("minute", minute_of_quick_check())):
        (payload / f"{name}.yaml").write_text(text, encoding="utf-8")
    machine.build.run("sh", "-c", f"xz -dc '{small}' >'{payload}/agent.tar'")
    bundle_disk = ext4_of(payload, work / "bundle.ext4", spare_megabytes=32)
    fat = FatStick(work / "fat.img")
    fat.put(work / agent)

    before = tally.seconds()
    root_disk = machine.root()
    tally.measure("kernel and root made or found, s", f"{tally.seconds() - before:.0f}")
    with Machine(Disk(root_disk), [Disk(bundle_disk)], accel=arguments.accel) as guest:
        tally.measure("accelerator", guest.accel)
        tally.measure("boot, s", f"{guest.boot_seconds:.1f}")
        guest.sh(f"mkdir -p {BUNDLE} && mount -o ro /dev/vdb {BUNDLE}")
        tally.check("the guest has no Java", guest.sh("command -v java", check=False).status != 0)
        done = guest.sh(call("sh", f"{BUNDLE}/full/loadwitness-reporter", "--version"),
                        timeout=guest.patience(60), check=False)
        tally.measure("reporter --version from ext4, s", f"{done.seconds:.1f}")

        if "vfat" in arguments.parts:
            stick = Stick(guest, "vfat", fat.image, agent)
            stick.plug()
            modes = guest.sh(f"stat -c %A {STICK}/{agent}/loadwitness-agent {STICK}/{agent}/runtime/bin/java").output
            tally.check("vfat: nothing on the stick is executable", "x" not in modes, modes)
            for scenario in (probes, pulled_and_still_mounted) if arguments.short else (
                    probes, quick_run, pulled, pulled_and_still_mounted, filled, read_only):
                scenario(tally, stick)
            stick.unmount()
        if "exfat" in arguments.parts:
            stick = Stick(guest, "exfat", blank_stick(work / "exfat.img", 512), agent)
            device = guest.plug(stick.image)
            guest.sh(f"mkfs.exfat {device}", timeout=guest.patience(30))
            stick.mount(device)
            guest.sh(f"setpriv --reuid=1000 --regid=1000 --clear-groups tar -C {STICK} -xf {BUNDLE}/agent.tar"
                     f" && sync -f {STICK}", timeout=guest.patience(120))
            for scenario in (probes, pulled_and_still_mounted) if arguments.short else (
                    probes, quick_run, pulled, pulled_and_still_mounted, filled, read_only, control):
                scenario(tally, stick)
            stick.unmount()
        if "disk" in arguments.parts:
            from_disk(tally, guest, [(1000, "LANG=C")] if arguments.short else [
                (None, "HOME=/root LANG=C"), (None, ""), (1000, "LC_ALL=tr_TR.UTF-8"), (1000, "LANG=C HOME=/nonexistent")])


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--bundle", type=pathlib.Path, default=TOP / "target/bundle", help="what bundle/build made")
    parser.add_argument("--accel", choices=["kvm", "tcg"], help="default: what works here")
    parser.add_argument("--short", action="store_true", help="one pull a stick, one user")
    parser.add_argument("--parts", default="vfat,exfat,disk", help="which of vfat,exfat,disk (default: all)")
    arguments = parser.parse_args()
    arguments.parts = arguments.parts.split(",")
    if set(arguments.parts) - {"vfat", "exfat", "disk"}:
        parser.error("--parts takes vfat, exfat and disk, separated by commas")
    arguments.seconds = 30
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="emulated-stick-") as work:
        try:
            check(arguments, tally, pathlib.Path(work))
        except (GuestError, machine.build.BuildError) as trouble:
            tally.check("the check itself could go on", False, trouble)
        used = sum(file.stat().st_blocks for file in pathlib.Path(work).rglob("*")) * 512 / 1e6
    tally.measure("disk for the cache, MB", machine.cache_megabytes())
    tally.measure("disk for this run, MB", f"{used:.0f}")
    tally.measure("this script, s", f"{tally.seconds():.0f}")
    for name, value in tally.measures.items():
        print(f"{name:40} {value}")
    print(f"{tally.failed} failed" if tally.failed else "all is as it should be")
    return 1 if tally.failed else 0


if __name__ == "__main__":
    sys.exit(main())
