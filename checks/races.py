#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Races: another user changes names as fast as the kernel does it, while root's agent works with them.

Run by ./check after the build, as root. The other user is `nobody`, a program in C (races/swap.c) in a loop; root's side
(races/Race.java) calls what the commands call, in one Java process, --tries times for each thing that the agent does with
files: a thousand times it is one of them that decides, not luck. After each try it is looked whether something in a folder
that only root can enter was written, made or removed: then the other user has won. He must never win.

With --old JAR, an agent from before the one way to open files, he must be seen winning each race against that one: what
cannot be lost proves nothing. As a control, each thing must succeed in a folder of root's own with nobody about.

Options: --tries N (default 1000), --old JAR, --whole N (also N whole processes of `probe`, `run` and `clean`, default 0),
--jar JAR (default: the one in agent/target).
"""
import argparse
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

import trial
from trial import call, check

TOP = pathlib.Path(__file__).resolve().parent.parent
HERE = TOP / "checks" / "races"
NOBODY = 65534
COPY = "loadwitness-65534-race"

DAEMON = 1

# What root does, where, and what the other user does there meanwhile. "own": a folder of the other user's. "shared": one
# that all may write to, with the sticky bit, as /tmp is.
RACES = [
    ("probe", "own", ["catch", "{ground}", "loadwitness-probe", "{secret}/precious"]),
    ("out", "own", ["exchange", "{ground}/t", "{ground}/t.other"]),
    ("work-dir", "own", ["exchange", "{ground}/t", "{ground}/t.other"]),
    ("reserve", "own", ["exchange", "{ground}/t", "{ground}/t.other"]),
    ("journal", "own", ["exchange", "{ground}/journal", "{ground}/journal.other"]),
    ("lock", "own", ["exchange", "{ground}/lock", "{ground}/lock.other"]),
    ("clean-logs", "own", ["exchange", "{ground}/T", "{ground}/T.other"]),
    ("clean-copy", "memory", ["exchange", "{ground}/" + COPY + "/runtime/d", "{ground}/" + COPY + "/runtime/e"]),
    ("procedure", "own", ["exchange", "{ground}/t", "{ground}/t.other"]),
    ("pipe", "own", ["exchange", "{ground}/lock", "{ground}/pipe"]),
    ("out-made", "shared", ["plant", "{ground}/t", "{secret}/t"]),
    ("journal", "shared", ["plant", "{ground}/journal", "{secret}/precious"]),
    ("lock", "shared", ["plant", "{ground}/lock", "{secret}/made"]),
]
# The same in a shared folder, for an agent that is not root's: never through a link.
RACES_OF_USERS = [race for race in RACES if race[1] == "shared" and race[0] != "out-made"]


def as_user(user):
    return ["setpriv", "--reuid", str(user), "--regid", str(user), "--clear-groups"] if user else []


class Place:
    """A fresh ground for one race, and root's secret folder beside it."""

    def __init__(self, folder, kind):
        self.root = pathlib.Path(tempfile.mkdtemp(dir=folder))
        self.root.chmod(0o755)
        self.secret = self.root / "secret"
        self.safe = self.root / "safe"
        self.ground = pathlib.Path("/dev/shm") if kind == "memory" else self.root / kind
        for made in (self.secret, self.safe, self.secret / "t", self.secret / "T" / "1"):
            made.mkdir(parents=True)
        self.secret.chmod(0o700)
        (self.secret / "precious").write_text("precious\n")
        (self.secret / "t" / "p.yaml").write_text("secret\n")
        if kind == "memory":
            return
        self.ground.mkdir()
        if kind == "shared":
            self.ground.chmod(0o1777)
        elif kind == "own":
            self.furnish()

    def furnish(self):
        """What the other user exchanges: a thing of his own, and a link to root's."""
        ground, secret = self.ground, self.secret
        for name, target in (("t", secret / "t"), ("T", secret / "T")):
            (ground / name).mkdir()
            (ground / (name + ".other")).symlink_to(target)
        (ground / "T" / "1").mkdir()
        (ground / "t" / "p.yaml").write_text("mine\n")
        os.mkfifo(ground / "pipe")
        for name, target in (("journal", secret / "precious"), ("lock", secret / "made")):
            (ground / name).write_text("")
            (ground / (name + ".other")).symlink_to(target)
        for path in [ground, *ground.rglob("*")]:
            os.chown(path, NOBODY, NOBODY, follow_symlinks=False)

    def give(self, user):
        """What is root's alone becomes that user's."""
        for path in [self.secret, self.safe, *self.secret.rglob("*")]:
            os.chown(path, user, user)

    def words(self, words):
        return [word.format(ground=self.ground, secret=self.secret) for word in words]


class Agent:
    """A jar, and root's side of the races compiled against it."""

    def __init__(self, jar, folder):
        self.jar = jar
        self.classes = pathlib.Path(tempfile.mkdtemp(dir=folder))
        self.classes.chmod(0o755)
        made = call("javac", "-cp", str(jar), "-d", str(self.classes), str(HERE / "Race.java"))
        if made.returncode != 0:
            sys.exit(made.stderr)

    def race(self, what, place, tries, user=0):
        """(tries, won, done, refused, last refusal)"""
        ran = call(*as_user(user), "java", "-XX:TieredStopAtLevel=1", "-cp", f"{self.classes}:{self.jar}", "dev.loadwitness.agent.Race",
                   what, str(place.ground), str(place.secret), str(place.safe), str(tries))
        if ran.returncode != 0:
            sys.exit(f"{what}: {ran.stderr}")
        *counts, last = ran.stdout.rstrip("\n").split("\t")
        return (*map(int, counts), last)


class Other:
    """The other user at work, until the end of the block."""

    def __init__(self, swap, words):
        self.command = [*as_user(NOBODY), str(swap), *words]

    def __enter__(self):
        self.process = subprocess.Popen(self.command)
        return self

    def __exit__(self, *_):
        self.process.kill()
        self.process.wait()


def races(agent, swap, folder, tries, must_win):
    for user, (what, kind, words) in [(0, race) for race in RACES] + [(DAEMON, race) for race in RACES_OF_USERS]:
        place = Place(folder, kind)
        place.give(user)
        with Other(swap, place.words(words)):
            tried, won, done, refused, last = agent.race(what, place, tries, user)
        shutil.rmtree(pathlib.Path("/dev/shm") / COPY, ignore_errors=True)
        print(f"{'old' if must_win else 'now'}  {'root' if user == 0 else 'user'} {what:10} {kind:6}  {tried} tries, the other user won {won};"
              f" {done} succeeded, {refused} failed{': ' + last if last else ''}", flush=True)
        if must_win:
            check(f"{what}, {kind}, user {user}: the other user wins against the old agent", won > 0)
        else:
            check(f"{what}, {kind}, user {user}: the other user never wins", won == 0, f"{won} of {tried}")


def controls(agent, folder):
    for what in dict.fromkeys(what for what, _, _ in RACES):
        place = Place(folder, "memory" if what == "clean-copy" else "none")
        if what != "clean-copy":
            for made in ("t", "T/1") if what != "out-made" else ():
                (place.ground / made).mkdir(parents=True)
            (place.ground / "lock").write_text("")
            if what == "procedure":
                (place.ground / "t" / "p.yaml").write_text("mine\n")
        _, won, done, refused, last = agent.race(what, place, 1)
        check(f"{what}: succeeds where nobody is about", (won, done, refused) == (0, 1, 0), last)


def whole(jar, swap, folder, tries):
    """Whole processes, as a user starts them: nothing of root's may be changed, whatever they say."""
    java = ["java", "-jar", str(jar)]
    for what, expected, command, words in (
            ("probe", {0}, ["probe", "--out", "{ground}"], RACES[0][2]),
            ("run", {73}, ["run", "--procedure", str(folder / "p.yaml"), "--attended", "--ticket", "T", "--out",
                           "{ground}/t/run"], RACES[1][2]),
            ("clean", {0, 1}, ["clean", "--yes", "--out", "{ground}"], RACES[6][2])):
        won = 0
        statuses = {}
        for _ in range(tries):
            place = Place(folder, "own")
            header = '{"n":0,"type":"header","format":"loadwitness-run/1.0","run":"b8cfc0e900f22754472a6029446e4ca7"}\n'
            for log in (place.secret / "T" / "1", place.ground / "T" / "1"):
                (log / "run.jsonl").write_text(header)
                (log / "run.lock").write_text("")
            before = sorted((str(path), path.read_bytes() if path.is_file() else b"") for path in place.secret.rglob("*"))
            with Other(swap, place.words(words)):
                ended = call(*java, *place.words(command), timeout=120)
            statuses[ended.returncode] = statuses.get(ended.returncode, 0) + 1
            after = sorted((str(path), path.read_bytes() if path.is_file() else b"") for path in place.secret.rglob("*"))
            won += before != after
        print(f"whole {what:6} {tries} processes, the other user won {won}; exit statuses {statuses}", flush=True)
        check(f"whole processes of {what}: the other user never wins", won == 0, f"{won} of {tries}")
        check(f"whole processes of {what} say what they are to say", set(statuses) <= expected, statuses)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--tries", type=int, default=1000)
    parser.add_argument("--old", type=pathlib.Path)
    parser.add_argument("--whole", type=int, default=0)
    parser.add_argument("--jar", type=pathlib.Path, default=TOP / "agent" / "target" / "loadwitness-agent.jar")
    options = parser.parse_args()
    if os.geteuid() != 0:
        sys.exit("races.py: only root can lose these races; run it as root")
    folder = pathlib.Path(tempfile.mkdtemp(prefix="loadwitness-races"))
    folder.chmod(0o755)
    try:
        swap = folder / "swap"
        made = call("gcc", "-O2", "-Wall", "-Werror", "-o", str(swap), str(HERE / "swap.c"))
        if made.returncode != 0:
            sys.exit(made.stderr)
        (folder / "p.yaml").write_text(trial.procedure("races", "Races", [trial.stage("soak", "1 s")]))
        now = Agent(options.jar, folder)
        controls(now, folder)
        races(now, swap, folder, options.tries, must_win=False)
        if options.whole:
            whole(options.jar, swap, folder, options.whole)
        if options.old:
            races(Agent(options.old, folder), swap, folder, options.tries, must_win=True)
    finally:
        shutil.rmtree(folder)
    return trial.status()


if __name__ == "__main__":
    sys.exit(main())
