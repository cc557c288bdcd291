#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Reads Loadwitness run logs: checks them, sums them up, or dumps their samples.

Follows the rules of docs/run-log.md and nothing else. Python 3.9 or later, standard library only.

    read_run.py run.jsonl                 a summary for people
    read_run.py --json run.jsonl ...      one JSON object a line, one for each log
    read_run.py --csv run.jsonl           samples as CSV: seg,t,utc, then one column a channel

Exit status: 0 the log is whole (a torn tail is no damage), 1 damage was found, 2 no run log or unreadable.
"""

import argparse
import csv
import datetime
import hashlib
import json
import os
import re
import stat
import sys

MAJOR = 1
MAX_LINE = 1 << 20
MAX_HEADER = 4 << 20
MAX_DEPTH = 32
MAX_COMMAS = 100_000
MAX_UNKNOWN_TYPES = 100
MAX_DIGITS = 40
MAX_N = 2**53 - 1
MAX_INT = 2**31 - 1
MOST_STATED = 1e15
MAX_LONG = 2**63 - 1
MAX_TORN_LINES = 1000
KEPT_DAMAGES = 1000
KEPT_STRANGERS = 100
CHUNK = 1 << 16

SUFFIX = re.compile(rb',"chain":"([0-9a-f]{64})"\}\Z')
SUFFIX_LENGTH = 76
STRING = re.compile(rb'"(?:[^"\\]|\\.)*(?:"|\\?\Z)', re.DOTALL)
BRACKET = re.compile(rb"[][{}]")
FIRST_CHAIN = b"0" * 64
PLAIN_TYPE = re.compile(r"[a-z0-9._-]{1,100}\Z")
HEX32 = re.compile(r"[0-9a-f]{32}\Z")
HEX64 = re.compile(r"[0-9a-f]{64}\Z")
UTC = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})T([0-9]{2}):([0-9]{2}):([0-9]{2})\.[0-9]{3}Z\Z")
CHANNEL_ID = re.compile(r"[a-z0-9][a-z0-9._-]{0,99}\Z")
KINDS = {"counter", "gauge"}
ROLES = {
    "cpu", "memory", "gpu-discrete", "gpu-integrated", "battery", "adapter",
    "fan", "board", "storage", "network", "input", "witness",
}
CAUSES = {"heat", "power-brake", "hardware-slowdown", "power-cap"}
MEMBERS = {
    "header": {
        "format", "run", "utc", "ticket", "nonce", "earlier", "simulated", "facts", "withheld",
        "agent", "procedure", "jobSheet", "ambient", "undurableSeconds",
    },
    "part": {"run", "part", "goodBytes", "goodChain"},
    "boot": {"seg", "t", "utc", "bootId", "bootTimeSeconds", "utcTrusted", "torn"},
    "channels": {"seg", "t", "channels"},
    "boot-evidence": {"seg", "t", "facts"},
    "sample": {"seg", "t", "utc", "v"},
    "event": {"seg", "t", "utc", "kind", "facts"},
    "close": {"seg", "t", "utc", "reason", "detail", "samples", "events"},
}
EVERYWHERE = {"n", "type", "must", "chain"}


class NoRunLog(Exception):
    """The file is no run log that this reader reads."""


class NoFile(NoRunLog):
    """No regular file: a folder, a device, a pipe, or a link where none is followed."""


def open_file(path, named):
    """A regular file; links are followed only where a person named them, never where a file is found by its place."""
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | (0 if named else getattr(os, "O_NOFOLLOW", 0))
    if not named and os.path.islink(path):
        raise NoFile("%s is a link" % path)
    if not stat.S_ISREG(os.stat(path).st_mode):
        raise NoFile("%s is no file" % path)
    stream = os.fdopen(os.open(path, flags), "rb")
    if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
        stream.close()
        raise NoFile("%s is no file" % path)
    return stream


class Fault(Exception):
    """Why a line is not read as a record: kind is a damage word."""

    def __init__(self, kind, detail=""):
        super().__init__(detail)
        self.kind = kind


# ---- one line ----------------------------------------------------------------------------------------------------


class Absurd(float):
    """Stands for a number that is absurd, until the whole line is known to be JSON."""


def parse_int(text):
    value = int(text) if len(text) <= 60 else None
    if value is None or len(text.lstrip("-")) > MAX_DIGITS or not -(2**63) <= value <= MAX_LONG:
        return Absurd(0)
    return value


def parse_float(text):
    value = float(text)
    if sum(c.isdigit() for c in text) > MAX_DIGITS or value in (float("inf"), float("-inf")):
        return Absurd(0)
    return value


def parse_constant(text):
    raise ValueError(text + " is not JSON")


def check_bytes(line):
    if b"\0" in line:
        raise Fault("nul-bytes")
    if line.startswith(b"\xef\xbb\xbf"):
        raise Fault("encoding")
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        raise Fault("encoding") from None


def check_size(line):
    if line.count(b"{") + line.count(b"[") <= MAX_DEPTH and line.count(b",") <= MAX_COMMAS:
        return
    bare = STRING.sub(b"", line)
    depth = 0
    for bracket in BRACKET.findall(bare):
        depth += 1 if bracket in b"{[" else -1
        if depth > MAX_DEPTH:
            raise Fault("too-deep")
    if bare.count(b",") > MAX_COMMAS:
        raise Fault("too-long")


def parse(line):
    """The members of a line as a dict in their order; raises Fault."""
    text = check_bytes(line)
    check_size(line)
    duplicates = []
    absurd = []

    def pairs(items):
        members = dict(items)
        if len(members) != len(items):
            duplicates.append(True)
        return members

    def whole(text):
        value = parse_int(text)
        if isinstance(value, Absurd):
            absurd.append(True)
        return value

    def real(text):
        value = parse_float(text)
        if isinstance(value, Absurd):
            absurd.append(True)
        return value

    try:
        members = json.loads(
            text, object_pairs_hook=pairs, parse_int=whole, parse_float=real, parse_constant=parse_constant
        )
    except ValueError:
        raise Fault("malformed") from None
    if not isinstance(members, dict):
        raise Fault("malformed")
    if duplicates:
        raise Fault("duplicate-key")
    if absurd:
        raise Fault("absurd-number")
    return members


def need(condition):
    if not condition:
        raise Fault("wrong-shape")


def is_number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def text(members, *names):
    for name in names:
        need(isinstance(members.get(name), str))


def flag(members, name):
    need(isinstance(members.get(name), bool))


def number(members, name, least=-sys.float_info.max, most=sys.float_info.max):
    need(is_number(members.get(name)) and least <= members[name] <= most)
    return members[name]


def whole_number(members, name, least, most):
    value = members.get(name)
    need(isinstance(value, int) and not isinstance(value, bool) and least <= value <= most)
    return value


def obj(members, name):
    need(isinstance(members.get(name), dict))
    return members[name]


def array(members, name):
    need(isinstance(members.get(name), list))
    return members[name]


def texts(members):
    need(all(isinstance(value, str) for value in members.values()))


def position(members):
    whole_number(members, "seg", 0, MAX_INT)
    whole_number(members, "t", 0, MAX_LONG)


def utc(members):
    text(members, "utc")
    match = UTC.match(members["utc"])
    need(match is not None)
    try:
        datetime.datetime(*(int(group) for group in match.groups()))
    except ValueError:
        raise Fault("wrong-shape") from None


def attachment(members):
    text(members, "name", "text", "sha256")


def check_header(m):
    text(m, "format", "run", "ticket", "nonce", "agent")
    need(HEX32.match(m["run"]) is not None)
    utc(m)
    for attempt in array(m, "earlier"):
        need(isinstance(attempt, dict))
        text(attempt, "run", "chain", "end")
    flag(m, "simulated")
    for group in obj(m, "facts").values():
        need(isinstance(group, dict))
        texts(group)
    need(all(isinstance(word, str) for word in array(m, "withheld")))
    attachment(obj(m, "procedure"))
    if "jobSheet" in m:
        attachment(obj(m, "jobSheet"))
    if "ambient" in m:
        number(obj(m, "ambient"), "celsius", -MOST_STATED, MOST_STATED)
        text(m["ambient"], "how")
    need(0 <= number(m, "undurableSeconds") <= 1e6)


def check_part(m):
    text(m, "run", "goodChain")
    whole_number(m, "part", 2, MAX_INT)
    whole_number(m, "goodBytes", 0, MAX_LONG)
    need(HEX64.match(m["goodChain"]) is not None)


def check_boot(m):
    position(m)
    utc(m)
    text(m, "bootId")
    flag(m, "utcTrusted")
    if "bootTimeSeconds" in m:
        number(m, "bootTimeSeconds", 0, MOST_STATED)
    if "torn" in m:
        torn = obj(m, "torn")
        whole_number(torn, "offset", 0, MAX_LONG)
        whole_number(torn, "length", 0, MAX_LONG)
        text(torn, "sha256")


def check_channels(m):
    position(m)
    ids = set()
    for c in array(m, "channels"):
        need(isinstance(c, dict))
        text(c, "id", "metric", "unit", "kind", "role", "component", "label", "source")
        need(CHANNEL_ID.match(c["id"]) is not None and c["id"] not in ids)
        ids.add(c["id"])
        need(c["kind"] in KINDS and c["role"] in ROLES)
        if "cause" in c:
            text(c, "cause")
            need(c["cause"] in CAUSES)
        for name in ("resolution", "standardUncertainty"):
            if name in c:
                number(c, name, 0, MOST_STATED)
        for value in obj(c, "limits").values():
            need(is_number(value) and -MOST_STATED <= value <= MOST_STATED)


def check_boot_evidence(m):
    position(m)
    texts(obj(m, "facts"))


def check_sample(m):
    position(m)
    utc(m)
    need(all(value is None or is_number(value) for value in array(m, "v")))


def check_event(m):
    position(m)
    utc(m)
    text(m, "kind")
    need(all(isinstance(value, (str, bool)) or is_number(value) for value in obj(m, "facts").values()))


def check_close(m):
    position(m)
    utc(m)
    text(m, "reason", "detail")
    whole_number(m, "samples", 0, MAX_LONG)
    whole_number(m, "events", 0, MAX_LONG)


CHECKS = {
    "header": check_header,
    "part": check_part,
    "boot": check_boot,
    "channels": check_channels,
    "boot-evidence": check_boot_evidence,
    "sample": check_sample,
    "event": check_event,
    "close": check_close,
}


def decode(line):
    """A line that ends in a chain value, as the members of a well-formed record; raises Fault."""
    m = parse(line)
    need(list(m)[:2] == ["n", "type"])
    whole_number(m, "n", 0, MAX_N)
    text(m, "type")
    if "must" in m:
        flag(m, "must")
    if m["type"] in CHECKS:
        CHECKS[m["type"]](m)
    return m


def must_but_unknown(m):
    known = MEMBERS.get(m["type"])
    return m.get("must") is True and (known is None or bool(set(m) - known - EVERYWHERE))


def fits(previous, line):
    """True if the line's chain value is SHA-256 of the previous value's hex and the bytes before the suffix."""
    computed = hashlib.sha256(previous + line[:-SUFFIX_LENGTH]).hexdigest()
    return computed.encode("ascii") == line[-66:-2]


# ---- lines of a file ---------------------------------------------------------------------------------------------


class Line:
    def __init__(self, number, offset, data, terminated, length, too_long, digest):
        self.number = number
        self.offset = offset
        self.data = data  # of a line that is too long only the last 76 bytes
        self.terminated = terminated
        self.length = length  # without the line feed
        self.too_long = too_long
        self.digest = digest  # SHA-256 so far of the garbage before and this line, if it is too long

    def whole_length(self):
        return self.length + (1 if self.terminated else 0)


class Lines:
    """Cuts a file into lines in bounded memory, up to a number of bytes."""

    def __init__(self, path, limit, garbage, named):
        self.stream = open_file(path, named)
        self.left = limit
        self.garbage = garbage
        self.whole = hashlib.sha256()
        self.size = 0
        self.buffer = b""
        self.offset = 0
        self.number = 0

    def fill(self):
        want = CHUNK if self.left is None else min(CHUNK, self.left)
        data = self.stream.read(want) if want > 0 else b""
        if self.left is not None:
            self.left -= len(data)
        self.whole.update(data)
        self.size += len(data)
        return data

    def next(self, most):
        pieces = [self.buffer]
        length = len(self.buffer)
        feed = self.buffer.find(b"\n")
        while feed < 0 and length <= most:
            data = self.fill()
            if not data:
                break
            at = data.find(b"\n")
            feed = length + at if at >= 0 else -1
            pieces.append(data)
            length += len(data)
        data = b"".join(pieces)
        self.number += 1
        offset = self.offset
        if feed > most or (feed < 0 and length > most):
            return self.skip(data, offset)
        if feed < 0:
            self.buffer = b""
            if not data:
                return None
            self.offset += len(data)
            return Line(self.number, offset, data, False, len(data), False, None)
        self.buffer = data[feed + 1 :]
        self.offset += feed + 1
        return Line(self.number, offset, data[:feed], True, feed, False, None)

    def skip(self, data, offset):
        digest = self.garbage.digest_before_next()
        tail = b""
        length = 0
        while True:
            feed = data.find(b"\n")
            piece = data if feed < 0 else data[:feed]
            digest.update(piece)
            length += len(piece)
            tail = (tail + piece)[-SUFFIX_LENGTH:]
            if feed >= 0:
                self.buffer = data[feed + 1 :]
                break
            data = self.fill()
            if not data:
                self.buffer = b""
                break
        terminated = feed >= 0
        self.offset += length + (1 if terminated else 0)
        return Line(self.number, offset, tail, terminated, length, True, digest)

    def drain(self):
        self.left = None
        while self.fill():
            pass

    def close(self):
        self.stream.close()


class Garbage:
    """Lines without a chain value since the last one with one: held back until it is known whether they are torn."""

    def __init__(self):
        self.clear()
        self.too_many = False

    def clear(self):
        self.held = []
        self.digest = hashlib.sha256()
        self.length = 0
        self.terminated = True

    def digest_before_next(self):
        digest = self.digest.copy()
        if self.held:
            digest.update(b"\n")
        return digest

    def hold(self, damage, line):
        if self.too_many or len(self.held) == MAX_TORN_LINES:
            self.too_many = True
            return False
        digest = line.digest
        if digest is None:
            digest = self.digest_before_next()
            digest.update(line.data)
        self.digest = digest
        self.held.append(damage)
        self.length += line.whole_length()
        self.terminated = line.terminated
        return True

    def is_exactly(self, torn, boot_offset):
        offset = self.held[0]["offset"]
        return (
            self.terminated
            and torn["offset"] == offset
            and torn["length"] == self.length - 1
            and boot_offset == offset + self.length
            and torn["sha256"] == self.digest.hexdigest()
        )


# ---- the log -----------------------------------------------------------------------------------------------------


class Reader:
    def __init__(self, path, on_record=None):
        self.path = path
        self.on_record = on_record
        self.garbage = Garbage()
        self.last_n = -1
        self.last_chain = FIRST_CHAIN
        self.last_end = 0
        self.last_part = 1
        self.skipped = 0
        self.stated = None
        self.run = None
        self.segment = -1
        self.nanos = 0
        self.columns = -1
        self.closed = False
        self.records = {}
        self.unknown_types = set()
        self.damages = []
        self.damage_count = 0
        self.unknown_must = False
        self.digests = []
        self.bytes = 0
        self.strangers = []

    def part_path(self, part):
        return self.path if part == 1 else "%s.part%d.jsonl" % (self.path[: -len(".jsonl")], part)

    def further_parts(self):
        """The part records of the further files of this very log, by number; whatever else is named so is a stranger."""
        found = {}
        folder, name = os.path.split(self.path)
        if not name.endswith(".jsonl"):
            return found
        pattern = re.compile(re.escape(name[: -len(".jsonl")]) + r"\.part([1-9][0-9]{0,5})\.jsonl\Z")
        matches = [pattern.match(file) for file in os.listdir(folder or ".")]
        numbers = sorted(int(match.group(1)) for match in matches if match and int(match.group(1)) > 1)
        header = self.first_record(1, MAX_HEADER) if numbers else None
        for number in numbers:
            m = self.first_record(number, MAX_LINE)
            if m and header and m["type"] == "part" and m["part"] == number and m["run"] == header.get("run"):
                found[number] = m
            elif len(self.strangers) < KEPT_STRANGERS:
                self.strangers.append(os.path.basename(self.part_path(number)))
        return found

    def first_record(self, part, most):
        try:
            lines = Lines(self.part_path(part), most + 1, Garbage(), named=part == 1)
        except NoFile:
            return None
        try:
            line = lines.next(most)
            if line is None or line.too_long or not SUFFIX.search(line.data):
                return None
            return decode(line.data)
        except Fault:
            return None
        finally:
            lines.close()

    def read(self):
        further = self.further_parts()
        expected = 1
        for part in [1] + sorted(further):
            if part != expected and further[part]["goodBytes"] > 0:
                self.damage("missing", expected, 1, 0)
            self.file(part, further[part + 1]["goodBytes"] if part + 1 in further else None)
            expected = part + 1
        return {
            "records": dict(sorted(self.records.items())),
            "damages": [{"kind": d["kind"], "part": d["part"], "line": d["line"]} for d in self.damages],
            "damageCount": self.damage_count,
            "lastChain": self.last_chain.decode("ascii"),
            "closed": self.closed,
            "unknownMust": self.unknown_must,
            "sha256": self.digests,
            "bytes": self.bytes,
            "strangers": self.strangers,
        }

    def file(self, part, limit):
        end_before = self.last_end if self.last_part == part - 1 else 0
        lines = Lines(self.part_path(part), limit, self.garbage, named=part == 1)
        try:
            line = lines.next(MAX_HEADER if part == 1 else MAX_LINE)
            if part == 1:
                self.check_first(line)
            while line is not None:
                self.line(line, part, end_before)
                line = lines.next(MAX_LINE)
            if limit is None and not self.closed and self.garbage.held:
                torn = dict(self.garbage.held[0], kind="torn-tail")
                self.garbage.clear()
                self.report(torn)
            self.flush()
            lines.drain()
            self.bytes += lines.size
            self.digests.append(lines.whole.hexdigest())
        finally:
            lines.close()

    def check_first(self, line):
        if line is None:
            raise NoRunLog("empty: no run log")
        if line.too_long or not SUFFIX.search(line.data):
            raise NoRunLog("no run log: the first line is not a whole record that ends in a chain value")
        try:
            m = parse(line.data)
        except Fault:
            m = {}
        version = None
        if m.get("type") == "header" and isinstance(m.get("format"), str):
            version = re.match(r"loadwitness-run/([0-9]{1,9})\.([0-9]{1,9})\Z", m["format"])
        if not version:
            raise NoRunLog("no run log: the first line is not a readable header")
        if int(version.group(1)) != MAJOR:
            raise NoRunLog("format %s: this reader reads loadwitness-run/1.x" % m["format"])
        try:
            decode(line.data)
        except Fault as fault:
            raise NoRunLog("the header is damaged (%s)" % fault.kind) from None

    def line(self, line, part, end_before):
        suffix = SUFFIX.search(line.data)
        try:
            if line.too_long:
                raise Fault("too-long")
            if not suffix:
                check_bytes(line.data)
                raise Fault("malformed")
            m = decode(line.data)
        except Fault as fault:
            damage = {"kind": fault.kind, "part": part, "line": line.number, "offset": line.offset}
            self.skipped += 1
            self.stated = suffix.group(1) if suffix else None
            if suffix:
                self.flush()
                self.garbage.too_many = False
                self.report(damage)
            elif not self.garbage.hold(damage, line):
                self.flush()
                self.report(damage)
            return
        self.record(line, part, end_before, m)

    def record(self, line, part, end_before, m):
        n = m["n"]
        follows = n == self.last_n + 1
        good = (self.skipped == 0 or follows) and fits(self.last_chain, line.data)
        declared = False
        if self.garbage.held:
            torn = m.get("torn") if m["type"] == "boot" else None
            if torn and follows and good and self.garbage.is_exactly(torn, line.offset):
                declared = True
                self.report(dict(self.garbage.held[0], kind="torn-tail"))
                self.garbage.clear()
            else:
                self.flush()
        if n <= self.last_n:
            self.damage("repeated", part, line.number, line.offset)
            return
        if n > self.last_n + 1 + self.skipped:
            self.damage("missing", part, line.number, line.offset)
        elif follows and not good or not follows and self.stated and not fits(self.stated, line.data):
            self.damage("edited", part, line.number, line.offset)
        elif m["type"] == "boot" and "torn" in m and not declared:
            self.damage("edited", part, line.number, line.offset)
        elif m["type"] == "part" and part > 1 and not self.part_fits(m, part, end_before):
            self.damage("edited", part, line.number, line.offset)
        self.garbage.too_many = False
        self.last_n = n
        self.last_chain = line.data[-66:-2]
        self.last_end = line.offset + line.whole_length()
        self.last_part = part
        self.skipped = 0
        self.stated = None
        misplaced = self.misplaced(m, part, line.number)
        if misplaced:
            self.damage(misplaced, part, line.number, line.offset)
            return
        counted_as = self.counted_as(m["type"])
        self.records[counted_as] = self.records.get(counted_as, 0) + 1
        self.unknown_must = self.unknown_must or must_but_unknown(m)
        if self.on_record:
            self.on_record(m)

    def counted_as(self, kind):
        if kind in MEMBERS or kind in self.unknown_types:
            return kind
        if len(self.unknown_types) == MAX_UNKNOWN_TYPES or not PLAIN_TYPE.match(kind):
            return "other"
        self.unknown_types.add(kind)
        return kind

    def part_fits(self, m, part, end_before):
        return (
            m["part"] == part
            and m["run"] == self.run
            and m["goodChain"].encode("ascii") == self.last_chain
            and m["goodBytes"] == end_before
        )

    def misplaced(self, m, part, line):
        """The damage of a well-formed record that may not stand here; None if it may."""
        kind = m["type"]
        if self.closed:
            return "out-of-place"
        if part > 1 and line == 1:
            return None if kind == "part" else "out-of-place"
        if kind == "header":
            if part != 1 or line != 1:
                return "out-of-place"
            self.run = m["run"]
            return None
        if kind == "part":
            return "out-of-place"
        if kind not in MEMBERS:
            return None
        if kind == "boot":
            if m["seg"] != self.segment + 1:
                return "out-of-place"
            self.segment = m["seg"]
            self.nanos = m["t"]
            self.columns = -1
            return None
        if m["seg"] != self.segment:
            return "out-of-place"
        if kind == "sample":
            if self.columns < 0:
                return "out-of-place"
            if len(m["v"]) != self.columns:
                return "wrong-shape"
        if m["t"] < self.nanos:
            return "out-of-place"
        self.nanos = m["t"]
        if kind == "channels":
            self.columns = len(m["channels"])
        if kind == "close":
            self.closed = True
        return None

    def flush(self):
        held = self.garbage.held
        self.garbage.clear()
        for damage in held:
            self.report(damage)

    def damage(self, kind, part, line, offset):
        self.report({"kind": kind, "part": part, "line": line, "offset": offset})

    def report(self, damage):
        self.damage_count += 1
        if len(self.damages) < KEPT_DAMAGES:
            self.damages.append(damage)


def is_whole(summary):
    return summary["damageCount"] == sum(d["kind"] == "torn-tail" for d in summary["damages"])


def dump_csv(path):
    out = csv.writer(sys.stdout, lineterminator="\n")

    def on_record(m):
        if m["type"] == "channels":
            out.writerow(["seg", "t_ns", "utc"] + ["%s [%s]" % (c["id"], c["unit"]) for c in m["channels"]])
        elif m["type"] == "sample":
            out.writerow([m["seg"], m["t"], m["utc"]] + ["" if v is None else v for v in m["v"]])

    return Reader(path, on_record).read()


def main():
    arguments = argparse.ArgumentParser(description="Check Loadwitness run logs and sum them up.")
    group = arguments.add_mutually_exclusive_group()
    group.add_argument("--json", action="store_true", help="one JSON object a line, one for each log")
    group.add_argument("--csv", action="store_true", help="samples as CSV, with a new head for each channel table")
    arguments.add_argument("logs", nargs="+", metavar="FILE", help="the first file of a log")
    options = arguments.parse_args()
    status = 0
    for path in options.logs:
        try:
            summary = dump_csv(path) if options.csv else Reader(path).read()
        except (NoRunLog, OSError) as problem:
            status = 2
            if options.json:
                print(json.dumps({"file": path, "error": str(problem)}))
            else:
                print("%s: %s" % (path, problem), file=sys.stderr)
            continue
        if not is_whole(summary):
            status = max(status, 1)
        if options.json:
            print(json.dumps(dict(file=path, **summary)))
        elif not options.csv:
            show(path, summary)
    return status


def show(path, summary):
    print(path)
    for kind, count in summary["records"].items():
        print("  %-14s %d" % (kind, count))
    print("  closed         %s" % ("yes" if summary["closed"] else "no"))
    print("  last chain     %s" % summary["lastChain"])
    if summary["unknownMust"]:
        print("  holds a record that must be understood and is not: do not judge this run")
    for damage in summary["damages"][:20]:
        print("  part %d line %d: %s" % (damage["part"], damage["line"], damage["kind"]))
    for name in summary["strangers"]:
        print("  %s is no part of this log and was not read" % name)
    if summary["damageCount"] > 20:
        print("  ... %d damages in all" % summary["damageCount"])


if __name__ == "__main__":
    sys.exit(main())
