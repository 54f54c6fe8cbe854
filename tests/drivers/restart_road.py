"""An engine whose shaft is counted by something that starts anew in mid-run, and the whole road from there.

Bytes of the counter ─decoder under test─▶ readings ─▶ recording ─▶ result.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import msgspec
import numpy as np

from daq.driver_api import Decoder, InstrumentCard, Quantity, Reading
from daq.recording.entries import ChannelEntry, Line, MachineEntry, SessionEntry
from daq.recording.writer import RecordingWriter
from daq.run.recorded import RecordedRun, open_recording
from tests.runs import machine_of

RATED_V = 24.0
RATED_RPM = 3600.0
SECONDS = 90.0
METER_WINDOW_S = 0.4
_METER = ChannelEntry(
    channel=0,
    quantity=Quantity.AC_VOLTAGE,
    unit="V",
    instrument="meter",
    address="none",
    card={
        "name": "meter",
        "title": "t",
        "protocol": "text",
        "channel": [{"quantity": "ac_voltage", "response": {"window_s": METER_WINDOW_S}}],
    },
    card_channel=0,
)


class Passing(NamedTuple):
    """What the counter knows when it speaks: marks since it started, and the time of the newest, since then too."""

    marks: int
    device_s: float
    arrival_s: float


def speed_rpm(t: float | np.ndarray) -> np.ndarray:
    """Up and down between about 2,200 and 4,000 rpm, never the same way twice."""
    return np.asarray(3000.0 + 650.0 * np.sin(np.asarray(t) / 6.0) + 250.0 * np.sin(np.asarray(t) / 2.3))


def turns(t: float | np.ndarray) -> np.ndarray:
    """Revolutions since 0 s: the integral of the speed."""
    at = np.asarray(t)
    swing = 650.0 * 6.0 * (1.0 - np.cos(at / 6.0)) + 250.0 * 2.3 * (1.0 - np.cos(at / 2.3))
    return np.asarray((3000.0 * at + swing) / 60.0)


def passings(starts_s: tuple[float, ...], *, away_s: float, every_s: float = 0.2) -> Iterator[Passing]:
    """What a counter with one mark says that starts anew at these moments, silent before each for ``away_s``."""
    rng = np.random.default_rng(5)
    fine = np.arange(0.0, SECONDS + 1.0, 1e-4)
    fine_turns = turns(fine)
    booted = 0.0
    for at in np.arange(every_s, SECONDS, every_s):
        if any(start - away_s <= at < start for start in starts_s):
            continue
        booted = max((start for start in starts_s if start <= at), default=0.0)
        marks = int(np.floor(turns(at)) - np.floor(turns(booted)))
        if marks > 0:
            newest_s = float(np.interp(np.floor(turns(at)), fine_turns, fine))
            yield Passing(marks, newest_s - booted, float(at + 0.02 + rng.uniform(0.0, 0.03)))


def record(
    path: Path,
    card: InstrumentCard,
    decoder: Decoder,
    spoken: Iterator[Passing],
    packet: Callable[[Passing], bytes],
) -> RecordedRun:
    """Let the decoder read all that, beside a meter, and open the recording."""
    lines: list[Line] = []
    for passing in spoken:
        lines += [
            Reading(1 + r.channel, r.t_ns, r.value, r.quality)
            for r in decoder.feed(packet(passing), round(passing.arrival_s * 1e9))
        ]
    lines += _volts()
    entries = [
        ChannelEntry(
            channel=1 + n,
            quantity=channel.quantity,
            unit=channel.quantity.unit,
            instrument=card.name,
            address="none",
            card=msgspec.to_builtins(card),
            card_channel=n,
        )
        for n, channel in enumerate(card.channel)
    ]
    session = SessionEntry(program="spinvolt test", started_utc="2026-03-01T08:00:00Z", source="run")
    machine = MachineEntry(card=msgspec.to_builtins(machine_of(RATED_RPM, 20.0)))
    with RecordingWriter.create(path, session, force=False) as writer:
        writer.write([machine, _METER, *entries])
        writer.write(sorted(lines, key=lambda line: line.t_ns if isinstance(line, Reading) else 0))
        writer.flush()
        writer.close(round(SECONDS * 1e9), "the test is over")
    return open_recording(path)


def _tells(reason: str, start_s: float) -> bool:
    """The first reading after the new start may come a little later."""
    return any(abs(float(at) - start_s) <= 1.0 for at in re.findall(r"(\d+) s", reason))


def _volts() -> list[Line]:
    rng = np.random.default_rng(6)
    ends = np.arange(1.0, SECONDS, 0.4)
    mean_rpm = 60.0 * (turns(ends) - turns(ends - METER_WINDOW_S)) / METER_WINDOW_S
    shown = np.round(RATED_V * mean_rpm / RATED_RPM + rng.normal(0.0, 0.005, len(ends)), 2)
    return [Reading(0, round((t + 0.15) * 1e9), float(v)) for t, v in zip(ends, shown, strict=True)]


def check_result(run: RecordedRun, starts_s: tuple[float, ...], *, away_s: float) -> None:
    """The result is that of the engine, no row rests on both sides of a new start, and the new start is told."""
    result = run.result()
    assert result.rated_voltage_V is not None, result.reasons
    assert abs(result.rated_voltage_V / RATED_V - 1.0) < 0.002
    assert result.verdict == "pass"
    assert result.lag_s is not None
    assert abs(result.lag_s - (0.15 + METER_WINDOW_S / 2 - 0.035)) < 0.03
    rows = run.analysis().rows
    middle = rows.time_s - 0.15 - METER_WINDOW_S / 2
    known = np.isfinite(rows.speed_rpm)
    off = np.abs(rows.speed_rpm[known] / speed_rpm(middle[known]) - 1.0)
    assert float(off.max()) < 0.01, "a bridged place would show as a wild speed"
    for start in starts_s:
        across = (middle > start - away_s + 0.25) & (middle < start + 0.1)
        assert not known[across].any()
        assert any("anew" in reason and _tells(reason, start) for reason in result.reasons), result.reasons
    share_known = float(known.sum()) / len(known)
    assert share_known > 0.97 - len(starts_s) * (away_s + 2.0) / SECONDS, "only the rows about it are lost"
