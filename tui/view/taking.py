"""A reading of a job while it is recorded: its value, large, and what is to be done meanwhile."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daq.model.quantity import Quantity
from daq.model.reading import Quality
from tui.view.current import current
from tui.view.health import health_view
from tui.view.numbers import clock, fixed, seconds
from tui.view.plots import thin
from tui.view.scale import Range, axis_range, spread, ticks
from tui.view.state import HealthView, PlotView, Series, Tick, Tone

if TYPE_CHECKING:
    from daq.run.rows import RawSeries
    from daq.run.snapshot import ChannelNow, Snapshot

__all__ = ["Taking", "TakingView", "taking_view"]

_SPAN_S = 60.0
_DIALS = {
    Quantity.AC_VOLTAGE: "AC volts",
    Quantity.DC_VOLTAGE: "DC volts",
    Quantity.DC_CURRENT: "DC amps",
    Quantity.RESISTANCE: "ohms",
    Quantity.FREQUENCY: "hertz",
    Quantity.TEMPERATURE: "temperature",
    Quantity.ROTATIONAL_SPEED: "speed",
}
_UNITS = {"ohm": "Ω", "degC": "°C"}
_LEAST_RANGE = {"V": 0.5, "A": 0.5, "ohm": 0.2, "rpm": 200.0, "degC": 2.0}


@dataclass(frozen=True)
class Taking:
    """What is recorded, and how."""

    title: str
    """Of the readings."""
    quantity: Quantity
    engine: str
    """What the engine does, one after the other."""
    seconds: float


@dataclass(frozen=True)
class TakingView:
    """Everything that is shown of it."""

    title: str
    digits: str
    """Characters that the block letters can draw."""
    unit: str
    words: str
    """What is unusual about the reading, or ""."""
    now: str
    now_tone: Tone
    elapsed: str
    progress: str
    """How much of its time has passed."""
    share: float
    """The same, 0 to 1."""
    speed: str
    """The engine's speed; "" where none is recorded."""
    trace: PlotView
    health: tuple[HealthView, ...]

    def bar_done(self, columns: int) -> int:
        """How many columns of a bar stand for the time that has passed."""
        return min(max(round(self.share * columns), 0), columns)


def taking_view(snapshot: Snapshot, taking: Taking, previous: TakingView | None = None) -> TakingView:
    """Work out what is shown.

    Args:
        snapshot: the state of the recording.
        taking: what is recorded.
        previous: the last view, so that the axis holds still.
    """
    channel, raw = _reading(snapshot, taking.quantity)
    fresh = channel if current(channel) else None
    digits, unit = _digits(fresh, taking.quantity)
    now, tone = _now(snapshot, taking, channel)
    return TakingView(
        title=taking.title,
        digits=digits,
        unit=unit,
        words="" if fresh is None or fresh.quality is Quality.GOOD else fresh.quality.words,
        now=now,
        now_tone=tone,
        elapsed=clock(snapshot.t_s),
        progress=f"{min(snapshot.t_s, taking.seconds):.0f} of {taking.seconds:.0f} s",
        share=min(max(snapshot.t_s / taking.seconds, 0.0), 1.0),
        speed=_speed(snapshot.speed),
        trace=_trace(snapshot.t_s, raw, taking, previous),
        health=tuple(health_view(health) for health in snapshot.health),
    )


def _reading(snapshot: Snapshot, quantity: Quantity) -> tuple[ChannelNow | None, RawSeries | None]:
    if quantity is Quantity.AC_VOLTAGE:
        return snapshot.voltage, snapshot.raw_voltage
    if quantity in {Quantity.ROTATIONAL_SPEED, Quantity.REVOLUTIONS}:
        return snapshot.speed, snapshot.raw_speed
    found = next((each for each in snapshot.others if each.quantity is quantity), None)
    return (None, None) if found is None else (found.now, found.raw)


def _digits(channel: ChannelNow | None, quantity: Quantity) -> tuple[str, str]:
    """Six characters, so that the digits stand still; large resistances in kΩ and MΩ."""
    unit = quantity.unit
    if channel is None:
        return "  --.-", _UNITS.get(unit, unit)
    if channel.quality is Quality.OVERLOAD:
        return "    OL", _UNITS.get(unit, unit)
    if channel.value is None or not math.isfinite(channel.value):
        return "  --.-", _UNITS.get(unit, unit)
    value, prefix = channel.value, ""
    for larger in ("k", "M") if quantity is Quantity.RESISTANCE else ():
        if abs(value) >= 1000.0:
            value, prefix = value / 1000.0, larger
    size = abs(value)
    decimals = 3 if size < 9.9995 and quantity is Quantity.RESISTANCE else 2 if size < 99.995 else 1
    return f"{fixed(value, 0 if size >= 999.95 else decimals):>6}", f"{prefix}{_UNITS.get(unit, unit)}"


def _now(snapshot: Snapshot, taking: Taking, channel: ChannelNow | None) -> tuple[str, Tone]:
    dial = _DIALS.get(taking.quantity, taking.quantity.value.replace("_", " "))
    if channel is None:
        return f"Nothing has come yet: is it on, at {dial}, and are its leads where they should be?", "doubt"
    if not current(channel):
        return f"Nothing for {channel.age_s:.0f} s: is the instrument on and its cable in?", "bad"
    if channel.quality is Quality.WRONG_FUNCTION:
        return f"The meter measures something else: turn the dial to {dial}.", "bad"
    left_s = taking.seconds - snapshot.t_s
    if left_s > 0:
        return f"{taking.engine} {seconds(max(left_s, 1.0))} more.", "good"
    return "Long enough: q closes it and takes it in.", "good"


def _speed(channel: ChannelNow | None) -> str:
    if channel is None or not current(channel) or channel.value is None:
        return ""
    return f"{channel.value:.0f} rpm"


def _trace(t_s: float, raw: RawSeries | None, taking: Taking, previous: TakingView | None) -> PlotView:
    unit = taking.quantity.unit
    before: Range | None = None
    if previous is not None and not previous.trace.empty:
        before = (previous.trace.y_low, previous.trace.y_high)
    times = np.empty(0) if raw is None else raw.time_s
    values = np.empty(0) if raw is None else raw.value
    recent = times >= t_s - _SPAN_S
    times, values = thin(times[recent], values[recent])
    limits = axis_range(spread(values) or (0.0, 1.0), before, least=_LEAST_RANGE.get(unit, 1.0))
    ago_s = (60.0, 45.0, 30.0, 15.0, 0.0)
    return PlotView(
        title=f"{_DIALS.get(taking.quantity, taking.quantity.value)}, {_UNITS.get(unit, unit)}",
        x_low=t_s - _SPAN_S,
        x_high=t_s,
        x_ticks=tuple(Tick(t_s - ago, f"-{ago:.0f} s" if ago else "now") for ago in ago_s),
        scrolls=True,
        y_low=limits[0],
        y_high=limits[1],
        y_ticks=ticks(limits),
        series=(Series("data", tuple(times.tolist()), tuple(values.tolist())),),
        empty="" if np.isfinite(values).any() else "no readings yet",
    )
