"""What a screen needs to know at one moment of a run, live or replayed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from daq.cards.machine import MachineCard
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.recording.entries import CloseEntry, EventEntry

if TYPE_CHECKING:
    from daq.run.rows import AlignedRows, RawSeries
    from daq.verdict.result import Result

__all__ = ["ChannelNow", "InstrumentHealth", "OtherChannel", "Snapshot"]


@dataclass(frozen=True)
class ChannelNow:
    """The newest reading of a channel."""

    unit: str
    value: float | None
    quality: Quality
    age_s: float
    """Since its bytes arrived, on the session's time."""
    usual_s: float | None = None
    """Usual time between two readings, by the newest of them or by its card; None where neither says."""


@dataclass(frozen=True)
class OtherChannel:
    """A channel besides AC volts and the speed, such as the battery's DC volts."""

    quantity: Quantity
    now: ChannelNow | None
    raw: RawSeries
    """The last two minutes as they came."""


@dataclass(frozen=True)
class InstrumentHealth:
    """How one instrument is doing."""

    instrument: str
    address: str
    state: str
    """"waiting" (nothing came yet), "ok", "silent" or "lost"."""
    age_s: float | None
    """Since its newest reading; None before the first."""
    rate_hz: float | None
    """Readings a second of its busiest channel over the last ten seconds; None before the second reading."""
    readings: int
    bad_frames: int
    lost: int
    text: str
    """The newest event that concerns it, or ""."""
    usual_s: float | None = None
    """Usual time between two readings of its busiest channel, measured or by its card; None where neither says."""


@dataclass(frozen=True)
class Snapshot:
    """The state of a followed recording; nothing in it changes after it was made."""

    t_s: float
    """Session time now."""
    machine: MachineCard | None
    voltage: ChannelNow | None
    speed: ChannelNow | None
    raw_voltage: RawSeries
    """AC volts of the last two minutes as they came."""
    raw_speed: RawSeries
    rows: AlignedRows
    """Aligned rows of the last two minutes."""
    result: Result
    """Over the last two minutes while the run goes on, over the whole run once it is finished."""
    health: tuple[InstrumentHealth, ...]
    events: tuple[EventEntry, ...] = field(default=())
    """The newest events, at most 20, newest last."""
    others: tuple[OtherChannel, ...] = ()
    """In the recording's order."""
    finished: bool = False
    close: CloseEntry | None = None
