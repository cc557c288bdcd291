# SPDX-License-Identifier: Apache-2.0
"""What the checks in this folder share: a procedure for a short run, programs called, and the count of what was found."""
import os
import subprocess
import sys

PROCEDURE = """\
format: loadwitness-procedure/1
name: {name}
title: {title}
sampling: {sampling}
stages:
{stages}safety:
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
  compute-errors:
    mandatory: yes
    at-most: 0
  evidence:
    mandatory: yes
    coverage: {coverage}
{more}"""

passed = failed = 0


def stage(name, duration, loaded=True):
    """A stage of a procedure, in YAML: idle, or with the processor's load."""
    return f"  - id: {name}\n" + ("    loads: [cpu]\n    proves: cpu\n" if loaded else "") + f"    duration: {duration}\n"


def procedure(name, title, stages, sampling="200 ms", coverage="90 %", longest_gap=None):
    """A procedure of some seconds, in YAML; `stages` as stage() gives them."""
    more = f"    longest-gap: {longest_gap}\n" if longest_gap else ""
    return PROCEDURE.format(
        name=name, title=title, sampling=sampling, stages="".join(stages), coverage=coverage, more=more)


def check(name, condition, detail=""):
    """Counts; says something only of what failed."""
    global passed, failed
    if condition:
        passed += 1
    else:
        failed += 1
        print(f"FAILED  {name}\n        {detail}", flush=True)


def alone():
    """Starts this script anew where it sees no processes, mounts and files in memory but its own, so that two can run side
    by side. Only root can: others go on as they are, and fail where they need it."""
    if os.geteuid() == 0 and "alone" not in sys._xoptions:
        # The shell takes in processes whose parent was killed.
        os.execvp("unshare", ["unshare", "--mount", "--pid", "--fork", "--kill-child", "--mount-proc", "sh", "-c",
                              'mount -t tmpfs -o mode=1777 tmpfs /dev/shm && "$@"; exit $?', "sh",
                              sys.executable, "-X", "alone", *sys.argv])


def status():
    """Prints the count; the script's exit status. A script that found nothing to check has failed."""
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


def call(*command, **options):
    return subprocess.run(command, capture_output=True, text=True, check=False, **options)
