"""What a screen shows, as plain words, numbers and bands. Widgets take these and work nothing out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, NamedTuple

__all__ = [
    "Band",
    "Captured",
    "HealthView",
    "Level",
    "Memory",
    "PlotView",
    "RatedView",
    "Series",
    "SpeedView",
    "Tick",
    "Tone",
    "VerdictView",
    "ViewState",
]

Tone = Literal["good", "bad", "doubt", "quiet"]
"""How a thing is meant: it gets a colour by this, and always a word or a shape besides."""


@dataclass(frozen=True)
class RatedView:
    """The main value."""

    digits: str
    """Fixed width while the size of the value does not change; "--.-" where it isn't known."""
    unit: str
    plus_minus: str
    """Such as "± 0.3 V"; "" where it isn't known."""
    at: str
    """What the value is more exactly, such as "at 3600 rpm, unloaded"."""
    caption: str = "rated output"
    left_out: str = ""
    """What the uncertainty leaves out, such as "and the meter's own error, unknown"; "" where that is nothing."""


@dataclass(frozen=True)
class VerdictView:
    """The verdict in a word, a shape and a tone, with the limit that it rests on."""

    word: str
    """One or two words that the block letters can draw."""
    shape: str
    """One character that has a block drawing."""
    words: str
    """The verdict in full."""
    tone: Tone
    limit: str
    chance: str
    """The probability of conforming, in words; "" where there is none."""


@dataclass(frozen=True)
class SpeedView:
    """The engine's speed and what to do about it."""

    digits: str
    unit: str
    action: str
    """Such as "more throttle" or "hold"."""
    arrows: str
    """Which way the speed has to go, by more arrows the further: such as "▶▶▶"; "" where nothing is to do."""
    to_go: str
    """Such as "240 rpm to go"; "" where nothing is to do."""
    tone: Tone
    place: float | None
    """Where the speed is on the bar, -1 to 1, 0 at rated speed; None where it isn't known."""
    window: float | None
    """Half width of the window on the same scale; None where there is no rated speed."""
    low: str
    """Label of the bar's left end, then of the window's edges and of rated speed, then of its right end."""
    low_edge: str
    high_edge: str
    high: str
    age: str = ""
    """Such as "4 s old" where the speed is older than is usual."""


@dataclass(frozen=True)
class HealthView:
    """One instrument's health."""

    name: str
    age: str
    rate: str
    bad: str
    """Bad frames in short."""
    counts: str
    """Readings, bad frames, losses."""
    state: str
    shape: str
    tone: Tone
    note: str


@dataclass(frozen=True)
class Series:
    """Points of one role; a NaN in ``ys`` leaves a gap."""

    role: str
    xs: tuple[float, ...]
    ys: tuple[float, ...]
    joined: bool = False


@dataclass(frozen=True)
class Level:
    """A level line across a plot."""

    value: float
    role: str
    label: str


class Band(NamedTuple):
    """A band across a plot, between two values."""

    low: float
    high: float


@dataclass(frozen=True)
class Tick:
    """A place on an axis and its label."""

    value: float
    label: str


@dataclass(frozen=True)
class PlotView:
    """A plot, all but its size."""

    title: str
    x_low: float
    x_high: float
    x_ticks: tuple[Tick, ...]
    y_low: float
    y_high: float
    y_ticks: tuple[Tick, ...]
    series: tuple[Series, ...]
    levels: tuple[Level, ...] = ()
    band: Band | None = None
    scrolls: bool = False
    """The x axis moves with time: ticks count from its right end."""
    empty: str = ""
    """What to say while there is nothing to draw."""


class Captured(NamedTuple):
    """A hold that was captured."""

    number: int
    """Counts the holds of this run, from 1."""
    words: str


@dataclass(frozen=True)
class Memory:
    """What one view hands to the next so that numbers and axes do not jump about."""

    decimals: int | None = None
    ranges: tuple[tuple[str, tuple[float, float]], ...] = ()
    captured: Captured | None = None
    held_until_s: float | None = None
    """Session time until which the captured hold was seen to go on; None before the first."""

    def range_of(self, name: str) -> tuple[float, float] | None:
        """The last range of that axis."""
        return dict(self.ranges).get(name)


@dataclass(frozen=True)
class ViewState:
    """Everything the run screen shows at one moment."""

    heading: str
    elapsed: str
    rated: RatedView
    verdict: VerdictView
    speed: SpeedView
    raw_volts: str
    """What the meter shows, as it came, and how long ago where that is long: "24.41 V", "overload, 4 s old"."""
    now: str
    now_tone: Tone
    health: tuple[HealthView, ...]
    messages: tuple[str, ...]
    rated_trace: PlotView
    speed_trace: PlotView
    scatter: PlotView
    finished: bool
    cut_off: bool = False
    """It has ended and was never closed."""
    captured: Captured | None = None
    """The newest captured hold."""
    memory: Memory = field(default_factory=Memory)
