"""Recordings written for a page: a sprayer cart's engine hunting about its rated speed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec
import numpy as np

from daq.cards.machine import MachineCard
from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.recording.entries import ChannelEntry, EventEntry, Line, MachineEntry, MarkEntry, SessionEntry
from daq.recording.writer import RecordingWriter

__all__ = ["CART", "channel_entry", "volts_and_speed", "written"]

CART = MachineCard(
    name="sprayer-cart",
    title="Sprayer cart of the nursery",
    rated_speed_rpm=3600.0,
    minimum_ac_voltage_v=20.0,
)
_METER: dict[str, object] = {
    "name": "hand-meter",
    "title": "A hand meter",
    "protocol": "text",
    "channel": [
        {
            "quantity": "ac_voltage",
            "resolution": 0.01,
            "accuracy": {"percent_of_reading": 0.5, "counts": 3},
            "response": {"window_s": 0.4},
        }
    ],
}
_LAG_S = 0.2


def channel_entry(
    number: int, quantity: Quantity, instrument: str, card: dict[str, object] | None = None
) -> ChannelEntry:
    """A channel's line."""
    return ChannelEntry(
        channel=number,
        quantity=quantity,
        unit=quantity.unit,
        instrument=instrument,
        address=f"port {number}",
        card=card or {},
        card_channel=0,
    )


def volts_and_speed(rated_v: float, *, carded: bool = True, seconds: float = 60.0) -> list[Line]:
    """Both instruments' channels and readings, volts in proportion to speed."""
    rng = np.random.default_rng(5)
    speed_s, volts_s = np.arange(0.5, seconds, 0.5), np.arange(0.7, seconds, 0.4)

    def rpm(t: np.ndarray[tuple[int], np.dtype[np.float64]]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.asarray(3500.0 + 250.0 * np.sin(t / 5.0) + 90.0 * np.sin(t / 1.9), dtype=np.float64)

    volts = rated_v / 3600.0 * rpm(volts_s - _LAG_S) + rng.normal(0.0, 0.01, len(volts_s))
    read = [Reading(0, round(t * 1e9), round(v, 2)) for t, v in zip(volts_s, volts.tolist(), strict=True)]
    read += [
        Reading(1, round(t * 1e9), round(n)) for t, n in zip(speed_s, rpm(speed_s).tolist(), strict=True)
    ]
    return [
        channel_entry(0, Quantity.AC_VOLTAGE, "hand-meter", _METER if carded else {}),
        channel_entry(1, Quantity.ROTATIONAL_SPEED, "hand-tach", {}),
        *sorted(read, key=lambda one: one.t_ns),
    ]


def written(
    path: Path,
    lines: Sequence[Line],
    *,
    machine: MachineCard | None = CART,
    started_utc: str = "2026-04-02T09:30:00Z",
    source: str = "run",
    note: str = "",
) -> Path:
    """Write a recording as the capture does, and close it."""
    session = SessionEntry(program="spinvolt test", started_utc=started_utc, source=source, note=note)
    last_ns = max(
        (line.t_ns for line in lines if isinstance(line, Reading | EventEntry | MarkEntry)), default=0
    )
    with RecordingWriter.create(path, session, force=False) as writer:
        if machine is not None:
            writer.write([MachineEntry(card=msgspec.to_builtins(machine))])
        writer.write(lines)
        writer.close(last_ns, "asked to stop")
    return path
