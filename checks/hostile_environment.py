#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The agent under an environment that another user made: hostile PATH, loaders, Java options, folders, umask.

Root on a customer's machine may have been given any of these, by a shell's start-up file or by su. Each hostile thing leaves a
mark when it is used. What is said of each variable in docs/bench-stick.md is looked at here, for the bundle's launcher
and for the plain jar. Needs what bundle/build made (target/bundle) and gcc. Exit status 0 if all is as it should be.
"""
import argparse
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
from trial import check

TOP = pathlib.Path(__file__).resolve().parent.parent
JAR = TOP / "agent/target/loadwitness-agent.jar"
SYSTEM = ["/usr/sbin", "/usr/bin", "/sbin", "/bin"]
WORKER = "dev.loadwitness.agent.load.child.WorkerMain"
# All that a child has; what HOME, TMPDIR and the caches name is looked at below.
CHILD_HAS = {"PATH", "LC_ALL", "HOME", "TMPDIR", "XDG_CACHE_HOME", "POCL_CACHE_DIR",
             "CUDA_CACHE_DISABLE", "POCL_KERNEL_CACHE", "AMD_COMGR_CACHE", "NEO_CACHE_PERSISTENT"}
LOADED = r"""
#include <fcntl.h>
#include <string.h>
#include <unistd.h>
__attribute__((constructor)) static void loaded(void) {
    char name[512];
    ssize_t length = readlink("/proc/self/exe", name, sizeof name - 1);
    int file = open(MARKS, O_WRONLY | O_CREAT | O_APPEND, 0666);
    if (length > 0 && file >= 0) {
        name[length] = '\n';
        if (write(file, name, length + 1) < 0) { _exit(99); }
    }
    if (file >= 0) close(file);
}
"""


def java_of_the_system():
    """By its absolute path, since the search path will be hostile."""
    return os.path.realpath(shutil.which("java"))


class Hostile:
    """Tools and a library of another user's, which leave a mark when they are run or loaded."""

    def __init__(self, place):
        self.place = place
        self.tools, self.marks, self.folder = place / "tools", place / "marks", place / "theirs"
        self.tools.mkdir()
        self.folder.mkdir(mode=0o777)
        self.folder.chmod(0o777)
        if os.geteuid() == 0:
            os.chown(self.folder, 65534, 65534)
        trap = place / "trap"
        trap.write_text(f'#!/bin/sh\necho "${{0##*/}}" >>\'{self.marks}\'\nPATH={":".join(SYSTEM)}\nexec "${{0##*/}}" "$@"\n',
                        encoding="utf-8")
        trap.chmod(0o755)
        for name in sorted({name for folder in SYSTEM for name in os.listdir(folder)}):
            (self.tools / name).symlink_to(trap)
        self.library = place / "foreign.so"
        source = place / "foreign.c"
        source.write_text(LOADED, encoding="utf-8")
        subprocess.run(["gcc", "-shared", "-fPIC", f'-DMARKS="{self.marks}"', "-o", self.library, source], check=True)

    def taken(self):
        """What was used since this was asked last."""
        marks = self.marks.read_text(encoding="utf-8").split() if self.marks.exists() else []
        self.marks.unlink(missing_ok=True)
        return marks


def environ(pid):
    data = pathlib.Path(f"/proc/{pid}/environ").read_bytes()
    return dict(item.split("=", 1) for item in data.decode(errors="replace").split("\0") if "=" in item)


def workers():
    found = []
    for folder in pathlib.Path("/proc").glob("[0-9]*"):
        try:
            if WORKER in (folder / "cmdline").read_bytes().decode(errors="replace").split("\0"):
                found.append(int(folder.name))
        except OSError:
            pass  # it has ended
    return found


def run(command, environment, place, umask=None):
    """A run of some seconds; looks at its workers while they are there. Returns output, log's folder, environments."""
    out = place / f"run{time.monotonic_ns()}"
    before = set(workers())
    process = subprocess.Popen(
        [*command, "run", "--procedure", str(place / "brief.yaml"), "--out", str(out)], env=environment, cwd=place,
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        preexec_fn=None if umask is None else lambda: os.umask(umask))
    seen = {}
    end = time.monotonic() + 120
    while process.poll() is None and time.monotonic() < end:
        for pid in set(workers()) - before - set(seen):
            try:
                found = environ(pid)
                if "LC_ALL" in found:  # a moment after it is started it is this program itself
                    seen[pid] = found
            except OSError:
                pass
        time.sleep(0.05)
    if process.poll() is None:
        process.send_signal(signal.SIGKILL)
    return process.communicate()[0], process.returncode, out, list(seen.values())


def looked_at(name, command, hostile, place, with_jar):
    base = {"LC_ALL": "C.UTF-8", "PATH": f"{hostile.tools}:{':'.join(SYSTEM)}", "HOME": str(hostile.folder),
            "TMPDIR": str(hostile.folder), "XDG_CACHE_HOME": str(hostile.folder), "XDG_RUNTIME_DIR": str(hostile.folder),
            "OCL_ICD_VENDORS": str(hostile.folder), "OPENCL_VENDOR_PATH": str(hostile.folder),
            "HSA_TOOLS_LIB": str(hostile.library), "CLASSPATH": str(hostile.folder), "BASH_ENV": str(hostile.place / "trap")}
    hostile.taken()
    output, status, out, children = run(command, base, place, umask=0)
    check(f"{name}: the run completes under a hostile search path and folders", status == 0, output[-2000:])
    check(f"{name}: nothing in the search path was run", not (taken := hostile.taken()), taken)
    check(f"{name}: its workers were seen", children, output[-2000:])
    for child in children:
        check(f"{name}: a worker inherits nothing", set(child) == CHILD_HAS, child)
        check(f"{name}: a worker's folders are this program's own",
              all(re.fullmatch(r"/(dev/shm|run|run/user/\d+|tmp)/loadwitness-\d+-\w+/drivers", child.get(key, ""))
                  for key in ("HOME", "TMPDIR", "XDG_CACHE_HOME", "POCL_CACHE_DIR")), child)
    check(f"{name}: nothing is left in another user's folder", not os.listdir(hostile.folder), os.listdir(hostile.folder))
    open_to_others = [str(file) for file in [out, *out.rglob("*")] if file.stat().st_mode & 0o022]
    check(f"{name}: under umask 000 nobody else can write to the log", out.exists() and not open_to_others, open_to_others)

    # Without HOME, and with a library to be loaded first. The program that is started itself, and the shell that reads the
    # launcher, are the loader's business before ours; nothing that they start is to load it.
    foreign = {"LC_ALL": "C.UTF-8", "PATH": base["PATH"], "LD_PRELOAD": str(hostile.library)}
    done = trial.call(*command, "probe", "--out", str(place), env=foreign, cwd=place, timeout=120)
    loaded = hostile.taken()
    check(f"{name}: probe with a foreign library to be loaded first, and without HOME", done.returncode == 0, done.stderr)
    # Java starts others by a helper of its own, which has Java's own environment.
    first = os.path.realpath(command[0])
    theirs = {first, str(pathlib.Path(first).parent.parent / "lib/jspawnhelper")} if with_jar else {first}
    check(f"{name}: only what the user started himself loads that library", set(loaded) <= theirs, loaded)
    check(f"{name}: and that it does shows that this check can see it", loaded, "no mark at all")

    variables = ("JAVA_TOOL_OPTIONS", "_JAVA_OPTIONS", "JDK_JAVA_OPTIONS")
    options = f"-Djna.tmpdir={hostile.folder} -Djava.io.tmpdir={hostile.folder}"
    environment = {"LC_ALL": "C.UTF-8", "PATH": base["PATH"], **dict.fromkeys(variables, options)}
    done = trial.call(*command, "probe", "--out", str(place), env=environment, cwd=place, timeout=120)
    told = {variable: len(re.findall(rf"\b{variable}\b", done.stdout + done.stderr)) for variable in variables}
    check(f"{name}: Java options are taken up {'by the first Java alone' if with_jar else 'by nobody'}",
          done.returncode == 0 and set(told.values()) == ({1} if with_jar else {0}), f"{told}\n{done.stderr}")
    check(f"{name}: with them nothing is put into another user's folder", not os.listdir(hostile.folder),
          os.listdir(hostile.folder))
    check(f"{name}: nothing of all that ran a tool of the search path", not (taken := hostile.taken()), taken)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--bundle", type=pathlib.Path, default=TOP / "target/bundle", help="what bundle/build made")
    parser.add_argument("--jar-only", action="store_true", help="leave the bundle out")
    arguments = parser.parse_args()
    trial.alone()
    shell = os.path.realpath("/bin/sh")
    before = set(pathlib.Path("/dev/shm").glob("loadwitness-*"))
    with tempfile.TemporaryDirectory(prefix="hostile-", dir="/tmp") as work:
        place = pathlib.Path(work)
        place.chmod(0o755)
        (place / "brief.yaml").write_text(trial.procedure(
            "brief", "A few seconds", [trial.stage("cpu-soak", "3 s")]), encoding="utf-8")
        hostile = Hostile(place)
        looked_at("jar", [java_of_the_system(), "-jar", str(JAR)], hostile, place, with_jar=True)
        if not arguments.jar_only:
            launchers = sorted(arguments.bundle.glob("loadwitness-agent-*-linux-x64/loadwitness-agent"))
            check("there is a bundle to look at", len(launchers) == 1, launchers)
            for launcher in launchers:
                looked_at("launcher", [shell, str(launcher)], hostile, place, with_jar=False)
    left = set(pathlib.Path("/dev/shm").glob("loadwitness-*")) - before
    check("no folder of ours is left in memory", not left, left)
    return trial.status()


if __name__ == "__main__":
    sys.exit(main())
