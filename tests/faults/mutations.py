"""Hurts files as strangers and accidents would: whole values replaced by nasty ones, bytes lost, doubled, changed."""

from __future__ import annotations

import random
import re

__all__ = ["NASTY", "hurt"]

NASTY: tuple[bytes, ...] = (
    b'""',
    b"null",
    b"true",
    b"[]",
    b"{}",
    b"0",
    b"-0.0",
    b"-1",
    b"1e308",
    b"-1e308",
    b"1e-320",
    b"1e400",
    b"NaN",
    b"nan",
    b"inf",
    b"99999999999999999999",
    b"4000000000000000000",
    b"9223372036854775807",
    b"2147483648",
    b"3999999999999999",
    b"86400000000",
    b'"\\u001b[2J\\u001b]0;owned\\u0007"',
    b'"\\u009b31m red"',
    b'"\x9b31m"',
    b'"\xc2\x9b31m red"',
    b'"\x1b[31mred"',
    b'"\xe2\x80\xae\\u202e txet dnuor denrut"',
    b'"[red]bold[/] [@click=app.quit]click[/]"',
    b"\"=cmd|' /C calc'!A0\"",
    b'"=HYPERLINK(\\"x\\")"',
    b'"@SUM(1)"',
    b'"<script>alert(1)</script><img src=x onerror=alert(1)>"',
    b'"javascript:alert(1)"',
    b'"../../../../tmp/outside"',
    b'"{{7*7}}{% for x in y %}"',
    b'"\\ud800"',
    b'"\\u0000"',
    b'"' + b"A" * 3000 + b'"',
    b"[" * 300 + b"]" * 300,
    b'{"a":' * 100 + b"1" + b"}" * 100,
    b"[" * 20_000,
    b"[" * 5000 + b"]" * 5000,
    b'{"a":' * 5000 + b"1" + b"}" * 5000,
    b"{a=" * 3000 + b"1" + b"}" * 3000,
    b"a." * 10_000 + b"a = 1",
    b"1" * 5000,
    b"0x" + b"f" * 5000,
    b"9.2e18",
    b"5e-324",
    b'"a\\u0000b"',
    b'"2026-03-14T09:00:00Z"',
    b'"0001-01-01T00:00:00+14:00"',
    b'"9999-12-31T23:59:59Z"',
)
_VALUE = re.compile(rb'"(?:[^"\\\n]|\\.)*+"?|-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?|\bnull\b|\btrue\b|\bfalse\b')


_PIECES = (
    *b'a 1 ( [ { _ . , - ; # = " $ (x [x a. 1. 1, -1 _a ,a'.split(),
    *(b"'", b'\\"', b" ", b"( ", b" a", b"\t", b"\n"),
)
"""What a careless search takes up again from each place where it stands."""
_LEAST_REPEATED, _MOST_REPEATED = 10_000, 100_000
"""Letters: where the time grows with their square, so many take seconds."""


def hurt(data: bytes, rng: random.Random, times: int) -> bytes:
    """Hurt a file so many times in a random way."""
    for _ in range(times):
        data = rng.choice(_WAYS)(data, rng)
    return data


def _value(data: bytes, rng: random.Random) -> bytes:
    """Replace a whole value."""
    places = list(_VALUE.finditer(data))
    if not places:
        return data + rng.choice(NASTY)
    # Most values of a recording are readings; the few at its beginning matter more.
    place = places[min(rng.randrange(len(places)), rng.randrange(len(places)), rng.randrange(len(places)))]
    return data[: place.start()] + rng.choice(NASTY) + data[place.end() :]


def _swap(data: bytes, rng: random.Random) -> bytes:
    """Put a value of the file in another's place."""
    places = list(_VALUE.finditer(data))
    if len(places) < 2:
        return data
    one, other = rng.choice(places), rng.choice(places)
    return data[: one.start()] + other.group() + data[one.end() :]


def _line(data: bytes, rng: random.Random) -> bytes:
    """Lose, double or move a line."""
    lines = data.split(b"\n")
    at = rng.randrange(len(lines))
    line = lines.pop(at)
    for _ in range(rng.randrange(3)):
        lines.insert(rng.randrange(len(lines) + 1), line)
    return b"\n".join(lines)


def _bytes(data: bytes, rng: random.Random) -> bytes:
    """Change, lose or add some bytes."""
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.randbytes(rng.randrange(4)) + data[at + rng.randrange(4) :]


def _repeat(data: bytes, rng: random.Random) -> bytes:
    """Repeat a short piece very many times, within a value or between any two bytes."""
    places = list(_VALUE.finditer(data))
    if places and rng.random() < 0.75:
        place = places[min(rng.randrange(len(places)), rng.randrange(len(places)))]
        at = rng.randrange(place.start(), place.end()) + 1
    else:
        at = rng.randrange(len(data) + 1)
    own = data[at : at + rng.randint(1, 4)]
    piece = own if own and rng.random() < 0.3 else rng.choice(_PIECES)
    again = rng.choice((b"", rng.choice(_PIECES) * rng.choice((1, 5000))))
    count = rng.randint(_LEAST_REPEATED, _MOST_REPEATED) // len(piece)
    return data[:at] + piece * count + again + data[at:]


def _cut(data: bytes, rng: random.Random) -> bytes:
    """Cut the file off."""
    return data[: rng.randrange(len(data) + 1)] if rng.random() < 0.3 else data


_WAYS = (_value, _value, _value, _value, _swap, _line, _bytes, _cut, _repeat)
