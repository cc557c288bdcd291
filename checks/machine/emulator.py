# SPDX-License-Identifier: Apache-2.0
"""Runs the machine in QEMU, by hardware virtualisation where there is some, else by emulation.

Two serial ports: the kernel's console, which goes to a file, and a channel for commands. QEMU's own control socket pulls and
plugs the stick, resets the machine, or shows its state. Every wait has a limit; when it passes, or the guest restarts
unasked, `GuestError` is raised with the console's last lines, and leaving the `with` block kills the machine.
"""
import base64
import dataclasses
import functools
import json
import os
import pathlib
import shlex
import shutil
import signal
import socket
import subprocess
import tempfile
import time

from . import build

CONSOLE_LINES = 50

_BARE = ["qemu-system-x86_64", "-nodefaults", "-no-user-config", "-display", "none", "-machine", "q35"]
_ACCELERATION = {
    # Inside another virtual machine the register behind arch-capabilities often cannot be set, and QEMU then gives up.
    "kvm": ["-accel", "kvm", "-cpu", "host,-arch-capabilities"],
    "tcg": ["-accel", "tcg,thread=multi", "-cpu", "max"],
}


class GuestError(Exception):
    """The guest did not do in time what was asked, or died; the text ends with the console's last lines."""


@dataclasses.dataclass(frozen=True)
class Result:
    status: int
    output: str
    seconds: float


@dataclasses.dataclass(frozen=True)
class Disk:
    """A disk image; with `keep` false what the guest writes is thrown away when the emulator ends."""
    image: pathlib.Path
    keep: bool = False


@functools.cache
def accelerator():
    """`kvm` if a kernel really starts by it here, else `tcg`.

    That /dev/kvm can be opened does not show that: inside some virtual machines it can, and the guest never gets anywhere.
    """
    if not os.access("/dev/kvm", os.R_OK | os.W_OK):
        return "tcg"
    made = build.kernel()
    try:
        # Without a first program the kernel gives up, and with -no-reboot QEMU then ends: some two seconds if KVM works.
        subprocess.run(
            [*_BARE, *_ACCELERATION["kvm"], "-no-reboot", "-m", "256", "-kernel", str(made / "vmlinuz"),
             "-append", "panic=-1 root=/dev/none"],
            stdin=subprocess.DEVNULL, capture_output=True, timeout=15, check=True)
    except (subprocess.TimeoutExpired, subprocess.CalledProcessError):
        return "tcg"
    return "kvm"


class Machine:
    def __init__(self, root_disk, disks=(), *, memory_megabytes=1024, processors=2, accel=None, devices=(),
                 kernel_arguments=""):
        """`devices` are further arguments for QEMU, given at each boot."""
        self.accel = accel or accelerator()
        self._devices = list(devices)
        self._kernel_arguments = kernel_arguments
        self._disks = [root_disk, *disks]
        self._memory = memory_megabytes
        self._processors = processors
        self._folder = pathlib.Path(tempfile.mkdtemp(prefix="machine-"))
        self._process = self._channel = self._control = None
        self._counter = 0
        self._received = b""
        self._plugged = False
        self.boot_seconds = None

    def __enter__(self):
        try:
            self.boot()
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_):
        self.kill()
        shutil.rmtree(self._folder, ignore_errors=True)

    # Power

    def boot(self, timeout=None, wait=True, clock=None):
        """Switches the machine on and waits until it takes commands. After `kill` on the same disks, as a machine does.

        `clock` is what its clock chip begins with, as 2009-01-01T00:00:00; without it, the true time.
        """
        if self._process:
            raise ValueError("the machine runs already")
        made = build.kernel()
        for name in ("channel", "control"):
            (self._folder / name).unlink(missing_ok=True)
        console = self._folder / "console"
        command = [
            *_BARE, "-S", *_ACCELERATION[self.accel],
            "-m", str(self._memory), "-smp", str(self._processors),
            "-kernel", str(made / "vmlinuz"), "-initrd", str(made / "initramfs"),
            "-append", f"console=ttyS0 loglevel=5 panic=-1 {self._kernel_arguments}".strip(),
            "-chardev", f"file,id=console,path={console},append=on", "-serial", "chardev:console",
            "-chardev", f"socket,id=channel,path={self._folder / 'channel'},server=on,wait=off",
            "-serial", "chardev:channel",
            "-qmp", f"unix:{self._folder / 'control'},server=on,wait=off",
            "-device", "qemu-xhci,id=usb",
        ]
        for disk in self._disks:
            image = str(disk.image).replace(",", ",,")
            command += ["-drive", f"file={image},format=raw,if=virtio,snapshot={'off' if disk.keep else 'on'}"]
        command += self._devices
        if clock:
            command += ["-rtc", f"base={clock}"]
        begin = time.monotonic()
        with open(self._folder / "emulator", "ab") as said:
            # A session of its own: Ctrl-C here reaches us first, and we end it.
            self._process = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=said, stderr=said, start_new_session=True)
        self._received = b""
        self._plugged = False
        try:
            self._control = _Control(self._connect("control"))
        except (OSError, GuestError):
            raise GuestError(f"the emulator did not start\n{self.console()}") from None
        self._channel = self._connect("channel")
        self._control.call("cont")
        if not wait:
            return
        self._wait_ready(timeout or self.patience(60))
        self.boot_seconds = time.monotonic() - begin

    def kill(self):
        """The power goes. What the guest had not yet sent to its disks is lost; what it had sent is not.

        Returns this machine's clock just before and just after, in seconds of the epoch.
        """
        before = time.time()
        if self._process:
            self._process.send_signal(signal.SIGKILL)
            self._process.wait()
        after = time.time()
        for link in (self._channel, self._control):
            if link:
                link.close()
        self._process = self._channel = self._control = None
        return before, after

    def reset(self, timeout=None):
        """The reset button, then the wait for the next boot."""
        self._received = b""
        self._control.call("system_reset")
        self._wait_ready(timeout or self.patience(60))

    def wait_reboot(self, timeout=None):
        """Waits for a restart that the guest itself was told to do."""
        self._wait_ready(timeout or self.patience(90))

    def patience(self, seconds):
        """A limit made for hardware virtualisation, stretched where every instruction is emulated."""
        return seconds if self.accel == "kvm" else seconds * 6

    # Commands

    def sh(self, command, timeout=30, check=True):
        """Runs a shell command as root. Raises GuestError if it takes longer, or ends with another status than 0."""
        if not self._channel:
            raise ValueError("the machine is off")
        self._counter += 1
        name = f"c{self._counter}"
        begin = time.monotonic()
        self._channel.sendall(f"{name} {base64.b64encode(command.encode()).decode()}\n".encode())
        what = f"`{_short(command)}`"
        self._read_until(f"@@{name} begin\n".encode(), timeout, what)
        output = self._read_until(f"\n@@{name} end ".encode(), timeout - (time.monotonic() - begin), what)
        status = int(self._read_until(b"\n", 10, what))
        result = Result(status, output.decode(errors="replace"), time.monotonic() - begin)
        if check and status != 0:
            raise GuestError(f"{what} ended with {status}:\n{result.output[-3000:]}")
        return result

    def start(self, name, command):
        """Starts a shell command as root in the background, under a name for `running`, `output` and `wait`."""
        job = shlex.quote(f"/run/machine/{name}")
        self.sh(
            f"rm -f {job}.*; cat >{job}.job <<'END-OF-JOB'\n{command}\nEND-OF-JOB\n"
            f"setsid sh -c 'sh {job}.job >{job}.output 2>&1 </dev/null; echo $? >{job}.part; mv {job}.part {job}.status'"
            " >/dev/null 2>&1 &")

    def running(self, name):
        return self.sh(f"test -e /run/machine/{name}.status", check=False).status != 0

    def output(self, name):
        """What the command has printed so far."""
        return self.sh(f"cat /run/machine/{name}.output 2>/dev/null", check=False).output

    def wait(self, name, timeout):
        """Waits for the end of a command in the background."""
        begin = time.monotonic()
        while self.running(name):
            if time.monotonic() - begin > timeout:
                raise GuestError(f"{name} did not end within {timeout:.0f} s; its output so far:\n"
                                 f"{self.output(name)[-3000:]}\n{self.console()}")
            time.sleep(0.5)
        status = int(self.sh(f"cat /run/machine/{name}.status").output)
        return Result(status, self.output(name), time.monotonic() - begin)

    def wait_off(self, timeout=None):
        """Waits until the guest has switched itself off, as it was told to."""
        timeout = timeout or self.patience(90)
        try:
            self._process.wait(timeout)
        except subprocess.TimeoutExpired:
            raise GuestError(f"the guest did not switch off within {timeout:.0f} s\n{self.console()}") from None
        self.kill()

    def until(self, condition, timeout, what, every=0.3):
        """Waits until a shell condition holds in the guest. Each look costs an emulated guest a good deal of its time."""
        begin = time.monotonic()
        while self.sh(condition, check=False).status != 0:
            if time.monotonic() - begin > timeout:
                raise GuestError(f"not within {timeout:.0f} s: {what}\n{self.console()}")
            time.sleep(every)

    # The stick

    def plug(self, image, operations_per_second=None, device="/dev/sd?1"):
        """Plugs a stick in and returns its partition's name in the guest, for example /dev/sda1."""
        if self._plugged:
            raise ValueError("a stick is plugged in already")
        file = {"driver": "file", "filename": str(image)}
        node = {"driver": "raw", "node-name": "stick", "file": file}
        if operations_per_second:
            self._control.call("object-add", **{
                "qom-type": "throttle-group", "id": "slowness", "limits": {"iops-total": operations_per_second}})
            node = {"driver": "throttle", "node-name": "stick", "throttle-group": "slowness",
                    "file": {"driver": "raw", "file": file}}
        self._control.call("blockdev-add", **node)
        self._control.call("device_add", driver="usb-storage", id="usbstick", bus="usb.0", drive="stick", removable=True)
        self._plugged = True
        self.until(f"ls {device}", self.patience(20), "a partition of the stick")
        return self.sh(f"ls -1t {device} | head -n 1").output.strip()

    def unplug(self):
        """Pulls the stick out without asking the guest: the device is gone when this returns."""
        self._control.call("device_del", id="usbstick")
        self._control.wait_event("DEVICE_DELETED", lambda data: data.get("device") == "usbstick", self.patience(20))
        self._control.call("blockdev-del", **{"node-name": "stick"})
        self._control.call("object-del", ignore_errors=True, id="slowness")
        self._plugged = False

    # What is known when something goes wrong

    def console(self, lines=CONSOLE_LINES):
        """The last lines of the kernel's console and of the emulator's own messages."""
        text = ""
        for name in ("console", "emulator"):
            file = self._folder / name
            if file.exists():
                last = file.read_text(encoding="utf-8", errors="replace").splitlines()[-lines:]
                text += f"--- {name}, last {len(last)} lines\n" + "\n".join(last) + "\n"
        return text

    def _connect(self, name):
        link = socket.socket(socket.AF_UNIX)
        end = time.monotonic() + 20
        while True:
            try:
                link.connect(str(self._folder / name))
                return link
            except OSError:
                if self._process.poll() is not None or time.monotonic() > end:
                    link.close()
                    raise GuestError(f"the emulator did not start\n{self.console()}") from None
                time.sleep(0.05)

    def _wait_ready(self, timeout):
        self._read_until(b"@@ready ", timeout, "the boot", ready=True)
        self._read_until(b"\n", 10, "the boot", ready=True)

    def _read_until(self, mark, timeout, what, ready=False):
        end = time.monotonic() + timeout
        while mark not in self._received:
            if not ready and b"@@ready " in self._received:
                raise GuestError(f"the guest restarted during {what}\n{self.console()}")
            left = end - time.monotonic()
            if left <= 0:
                raise GuestError(f"{what} did not end within {timeout:.0f} s; so far: "
                                 f"{self._received[-2000:].decode(errors='replace')}\n{self.console()}")
            self._channel.settimeout(min(left, 1))
            try:
                more = self._channel.recv(65536)
            except TimeoutError:
                continue
            if not more:
                raise GuestError(f"the emulator ended during {what}\n{self.console()}")
            self._received += more
        before, _, self._received = self._received.partition(mark)
        return before


class _Control:
    """QEMU's machine protocol: a JSON object a line, answers and events mixed."""

    def __init__(self, link):
        self._link = link
        self._file = link.makefile("rb")
        self._events = []
        self._link.settimeout(30)
        self._file.readline()  # its greeting
        self.call("qmp_capabilities")

    def close(self):
        self._file.close()
        self._link.close()

    def call(self, command, ignore_errors=False, **arguments):
        self._link.settimeout(30)
        self._link.sendall(json.dumps({"execute": command, "arguments": arguments}).encode() + b"\n")
        while True:
            answer = self._next()
            if "return" in answer:
                return answer["return"]
            if "error" in answer:
                if ignore_errors:
                    return None
                raise GuestError(f"{command}: {answer['error']['desc']}")

    def wait_event(self, name, fits, timeout):
        end = time.monotonic() + timeout
        while True:
            for event in self._events:
                if event["event"] == name and fits(event.get("data", {})):
                    self._events.remove(event)
                    return
            left = end - time.monotonic()
            if left <= 0:
                raise GuestError(f"the emulator did not report {name} within {timeout:.0f} s")
            self._link.settimeout(left)
            self._next()

    def _next(self):
        try:
            line = self._file.readline()
        except TimeoutError:
            raise GuestError("the emulator does not answer") from None
        except OSError:
            line = b""
        if not line:
            raise GuestError("the emulator ended")
        message = json.loads(line)
        if "event" in message:
            self._events.append(message)
        return message


def _short(command):
    line = " ".join(command.split())
    return line if len(line) < 120 else line[:117] + "..."
