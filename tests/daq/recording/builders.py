"""Recordings built from only what a test cares about."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.recording.batch import Source
from daq.recording.entries import ChannelEntry, Line, SessionEntry
from daq.recording.lines import encode_lines
from daq.recording.writer import RecordingWriter

SESSION = SessionEntry(program="spinvolt test", started_utc="2026-03-01T08:00:00Z", source="run")
VOLTS = ChannelEntry(
    channel=0,
    quantity=Quantity.AC_VOLTAGE,
    unit="V",
    instrument="scpi-meter",
    address="socket://127.0.0.1:7000",
    card={"name": "scpi-meter"},
    card_channel=0,
)
SPEED = ChannelEntry(
    channel=1,
    quantity=Quantity.ROTATIONAL_SPEED,
    unit="rpm",
    instrument="text-speed",
    address="/dev/ttyUSB0",
    card={"name": "text-speed"},
    card_channel=0,
)


def raw(*lines: Line | bytes) -> bytes:
    """A recording's bytes: session and two channels, then the lines, each as given or encoded."""
    return encode_lines([SESSION, VOLTS, SPEED]) + b"".join(
        line + b"\n" if isinstance(line, bytes) else encode_lines([line]) for line in lines
    )


def readings(count: int, *, step_ns: int = 100_000_000) -> list[Reading]:
    """Volts and speed in turn."""
    return [Reading(i % 2, i * step_ns, 20.5 + i / 8 if i % 2 == 0 else 3600.0 + i) for i in range(count)]


def record(path: Path, lines: Sequence[Line], *, close: bool = True) -> Path:
    """Write a recording with the writer."""
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        writer.write([VOLTS, SPEED])
        writer.write(lines)
        writer.flush()
        if close:
            writer.close(max((getattr(line, "t_ns", 0) for line in lines), default=0), "asked to stop")
    return path


def is_finished(source: Source) -> bool:
    """Whether nothing more will come (a function, since mypy takes a property for constant)."""
    return source.finished
