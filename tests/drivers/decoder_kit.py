"""What every decoder must stand: cuts at every byte, junk anywhere, mutated frames without end.

The checks take a :class:`Sample`: a decoder and frames that it understands.
The suite runs them briefly, ``tests/benchmarks/decoder_fuzz.py`` at length.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple, Protocol

from daq.driver_api import Quality, Reading

__all__ = [
    "AnyDecoder",
    "Outcome",
    "Sample",
    "check_cut_everywhere",
    "check_junk",
    "check_one_stream",
    "check_resync",
    "held_bytes",
    "mutated_stream",
    "outcome",
]

Outcome = list[tuple[int, float | None, Quality]]
WITHOUT_VALUE = {Quality.OVERLOAD, Quality.NOT_A_NUMBER, Quality.BAD_FRAME, Quality.BLANK, Quality.LOST}


class AnyDecoder(Protocol):
    """What the checks use of a decoder."""

    max_frame: int

    def feed(self, data: bytes, t_ns: int) -> list[Reading]: ...

    def flush(self) -> list[Reading]: ...

    def resync(self) -> None: ...


class Sample(NamedTuple):
    """A decoder and what it understands."""

    name: str
    make: Callable[[], AnyDecoder]
    frames: Sequence[bytes]
    expected: Sequence[Outcome]
    """What each frame gives, fed one after the other."""
    junk: bytes = b"\x00\xff#junk#\x80"
    """Bytes that are no reading, and hide none that follows."""
    channels: int = 1

    def __str__(self) -> str:
        return self.name


def outcome(readings: Sequence[Reading]) -> Outcome:
    """Readings without their stamps."""
    return [(r.channel, r.value, r.quality) for r in readings]


def held_bytes(thing: object, seen: set[int] | None = None) -> int:
    """How much of what was fed an object still holds: bytes, texts and the lengths of its containers."""
    seen = set() if seen is None else seen
    if id(thing) in seen or isinstance(thing, type):
        return 0
    seen.add(id(thing))
    if isinstance(thing, bytes | bytearray | str):
        return len(thing)
    if isinstance(thing, dict):
        return sum(1 + held_bytes(k, seen) + held_bytes(v, seen) for k, v in thing.items())
    if isinstance(thing, list | tuple | set | frozenset):
        return sum(1 + held_bytes(part, seen) for part in thing)
    inner = getattr(thing, "__dict__", None)
    return 0 if inner is None else held_bytes(inner, seen)


def check_cut_everywhere(sample: Sample) -> None:
    """The same readings come however the stream is cut, each stamped when its last byte came."""
    wire = b"".join(sample.frames)
    whole = [part for parts in sample.expected for part in parts]
    assert outcome(sample.make().feed(wire, 1)) == whole
    for cut in range(1, len(wire)):
        decoder = sample.make()
        readings = decoder.feed(wire[:cut], 1) + decoder.feed(wire[cut:], 2)
        assert outcome(readings) == whole, f"cut at {cut}"
    decoder = sample.make()
    readings = [r for n in range(len(wire)) for r in decoder.feed(wire[n : n + 1], n)]
    assert outcome(readings) == whole, "byte by byte"
    ends = [sum(map(len, sample.frames[: n + 1])) for n in range(len(sample.frames))]
    due = [end for end, parts in zip(ends, sample.expected, strict=True) for _ in parts]
    for reading, end in zip(readings, due, strict=True):
        # A line may end with CR LF and is complete at the CR.
        assert end - 2 <= reading.t_ns <= end - 1, f"{reading} should be stamped at byte {end - 1}"


def check_resync(sample: Sample) -> None:
    """Told that the stream goes on in mid-frame, it passes the rest of that frame over without a word."""
    first, *rest = sample.frames
    for cut in range(1, len(first)):
        decoder = sample.make()
        decoder.resync()
        came = outcome(decoder.feed(first[cut:], 1) + decoder.feed(b"".join(rest), 2))
        assert came == [part for parts in sample.expected[1:] for part in parts], f"cut at {cut}"


def check_junk(sample: Sample) -> None:
    """Junk before, between and after frames hides none of them, makes no reading, and is told."""
    decoder = sample.make()
    good: Outcome = []
    places = 0
    for frame, expected in zip(sample.frames, sample.expected, strict=True):
        came = outcome(decoder.feed(sample.junk, 0)) + outcome(decoder.feed(frame, 1))
        assert [part for part in came if part[2] is not Quality.BAD_FRAME] == expected
        places += any(quality is Quality.BAD_FRAME for _, _, quality in came)
        good += expected
    after = outcome(decoder.feed(sample.junk, 2) + decoder.flush())
    assert {quality for _, _, quality in after} <= {Quality.BAD_FRAME}
    assert places == len(sample.frames), "junk must be told each time"
    assert good


def mutated_stream(sample: Sample, rng: random.Random, frames: int) -> Iterator[bytes]:
    """Chunks of a stream in which ``frames`` frames are whole, hurt, cut, doubled or replaced by junk."""
    for _ in range(frames):
        frame = bytearray(rng.choice(sample.frames))
        kind = rng.randrange(7)
        if kind == 0:
            frame = bytearray(rng.randbytes(rng.randrange(1, 40)))
        elif kind == 1:
            del frame[rng.randrange(len(frame)) :]
        elif kind == 2:
            del frame[: rng.randrange(1, len(frame))]
        elif kind == 3:
            for _ in range(rng.randrange(1, 4)):
                frame[rng.randrange(len(frame))] ^= 1 << rng.randrange(8)
        elif kind == 4:
            frame.insert(rng.randrange(len(frame)), rng.randrange(256))
        elif kind == 5:
            at = rng.randrange(len(frame))
            frame[at : at + 1] = rng.choice((b"\r\n", b"\xff\xff", b"-", b"9" * 30, b",", b"e", b"\0"))
        while frame:
            size = rng.randrange(1, 30)
            yield bytes(frame[:size])
            del frame[:size]


def check_one_stream(sample: Sample, chunks: Iterator[bytes]) -> int:
    """Feed chunks to a fresh decoder and hold what comes against the contract; the number of readings."""
    decoder = sample.make()
    bare, fed, count, t_ns = held_bytes(decoder), 0, 0, 0
    for chunk in chunks:
        t_ns += 1_000_000
        fed += len(chunk)
        readings = decoder.feed(chunk, t_ns)
        count += len(readings)
        for reading in readings:
            check_reading(reading, sample, t_ns)
    assert held_bytes(decoder) - bare <= 2 * decoder.max_frame + 4096, "what it holds must not grow"
    assert count <= (fed + 1) * max(2, sample.channels), "no more readings than bytes can carry"
    for reading in decoder.flush():
        check_reading(reading, sample, t_ns)
    return count


def check_reading(reading: Reading, sample: Sample, t_ns: int) -> None:
    """Hold one reading against the contract."""
    assert 0 <= reading.channel < sample.channels
    assert 0 <= reading.t_ns <= t_ns
    if reading.quality in WITHOUT_VALUE:
        assert reading.value is None
    elif reading.quality is Quality.GOOD:
        assert reading.value is not None
    assert reading.value is None or math.isfinite(reading.value)
