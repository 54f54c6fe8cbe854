"""What the plots show: rated volts with limit and band, speed with its window, volts against speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

import numpy as np

from tui.view.numbers import clock, fixed, known
from tui.view.scale import Range, axis_range, spread, ticks
from tui.view.state import Band, Level, PlotView, Series, Tick

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daq.run.snapshot import Snapshot

__all__ = ["BUCKETS", "rated_trace", "scatter", "speed_trace", "thin"]

BUCKETS = 240
"""Most places along a trace; more points than two a place are thinned to the least and the greatest."""


def thin(xs: NDArray[np.float64], ys: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Keep the least and the greatest value of each place along x, so that no spike and no dip is lost."""
    n = len(xs)
    if n <= 2 * BUCKETS:
        return xs, ys
    per_place = -(-n // BUCKETS)
    places = -(-n // per_place)
    square = np.full((places, per_place), np.nan)
    square.reshape(-1)[:n] = ys
    gap = np.isnan(square)
    first = np.arange(places) * per_place
    least = first + np.where(gap, np.inf, square).argmin(axis=1)
    greatest = first + np.where(gap, -np.inf, square).argmax(axis=1)
    keep = np.unique(np.concatenate((least, greatest)))
    return xs[keep], ys[keep]


def rated_trace(snapshot: Snapshot, span_s: float, previous: Range | None) -> PlotView:
    """Rated volts over the last ``span_s`` seconds; of a run that has ended over the whole of it."""
    rows, result = snapshot.rows, snapshot.result
    axis = _time_axis(snapshot, span_s)
    recent = rows.time_s >= axis["x_low"]
    usable = recent & (rows.mark == 0)
    good = usable & np.isfinite(rows.rated_voltage_V)
    doubtful = recent & (rows.mark != 0) & np.isfinite(rows.rated_voltage_V)
    band = _band(result.rated_voltage_V, result.expanded_uncertainty_V)
    wanted: list[Range | None] = [spread(rows.rated_voltage_V[good]), band]
    if result.minimum_V is not None:
        wanted.append((result.minimum_V, result.minimum_V))
    limits = axis_range(_union(wanted) or (0.0, 10.0), previous, least=1.0)
    levels = () if result.minimum_V is None else (Level(result.minimum_V, "limit", "limit"),)
    return PlotView(
        title="volts at rated speed, V",
        series=(
            _series("doubt", rows.time_s[doubtful], rows.rated_voltage_V[doubtful]),
            _series("data", rows.time_s[good], rows.rated_voltage_V[good]),
        ),
        levels=levels,
        band=band,
        empty=_nothing(snapshot, usable, good, span_s),
        y_low=limits[0],
        y_high=limits[1],
        y_ticks=ticks(limits),
        **axis,
    )


def _nothing(snapshot: Snapshot, usable: NDArray[np.bool_], scaled: NDArray[np.bool_], span_s: float) -> str:
    """Why there is no point to be seen; "" where there is one."""
    if scaled.any():
        return ""
    if usable.any():
        return "not scaled to rated speed"
    return _none(
        "aligned rows", earlier=bool((snapshot.rows.mark == 0).any()), snapshot=snapshot, span_s=span_s
    )


def _none(what: str, *, earlier: bool, snapshot: Snapshot, span_s: float) -> str:
    """That there are none: at all, up to now, or lately."""
    if snapshot.finished:
        return f"no {what}"
    return f"nothing in the last {span_s:.0f} s" if earlier else f"no {what} yet"


def speed_trace(snapshot: Snapshot, span_s: float, previous: Range | None) -> PlotView:
    """Speed over the last ``span_s`` seconds, or the whole of a run that has ended, with its window."""
    machine = snapshot.machine
    axis = _time_axis(snapshot, span_s)
    time_s, speed_rpm = _speed_points(snapshot)
    recent = time_s >= axis["x_low"]
    window = None
    if machine is not None:
        rated_rpm, half_rpm = machine.rated_speed_rpm, machine.speed_tolerance_rpm
        window = Band(rated_rpm - half_rpm, rated_rpm + half_rpm)
    # Where rows are aligned their speeds set the range: a false reading must not stretch the axis.
    aligned = snapshot.rows.speed_rpm[snapshot.rows.time_s >= axis["x_low"]]
    wanted: list[Range | None] = [spread(aligned) or spread(speed_rpm[recent]), window]
    limits = axis_range(_union(wanted) or (0.0, 1000.0), previous, least=200.0)
    nothing = _none("speed readings", earlier=len(time_s) > 0, snapshot=snapshot, span_s=span_s)
    return PlotView(
        title="speed, rpm",
        series=(_series("data", time_s[recent], speed_rpm[recent]),),
        levels=() if machine is None else (Level(machine.rated_speed_rpm, "fit", "rated"),),
        band=window,
        empty="" if recent.any() else nothing,
        y_low=limits[0],
        y_high=limits[1],
        y_ticks=ticks(limits),
        **axis,
    )


def _speed_points(snapshot: Snapshot) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The speed readings; before those that are kept, where the whole run is shown, the rows' speeds."""
    raw, rows = snapshot.raw_speed, snapshot.rows
    if not snapshot.finished:
        return raw.time_s, raw.value
    before = np.isfinite(rows.speed_rpm)
    if len(raw.time_s):
        before &= rows.time_s < raw.time_s[0]
    return (
        np.concatenate((rows.time_s[before], raw.time_s)),
        np.concatenate((rows.speed_rpm[before], raw.value)),
    )


def scatter(snapshot: Snapshot, previous_x: Range | None, previous_y: Range | None) -> PlotView:
    """Volts against speed, with the fitted straight line."""
    rows, result = snapshot.rows, snapshot.result
    good = (rows.mark == 0) & np.isfinite(rows.speed_rpm) & np.isfinite(rows.voltage_V)
    xs, ys = rows.speed_rpm[good], rows.voltage_V[good]
    x_limits = axis_range(spread(xs) or (0.0, 4000.0), previous_x, least=200.0)
    y_limits = axis_range(spread(ys) or (0.0, 30.0), previous_y, least=2.0)
    series = [_series("data", *thin(xs, ys))]
    slope, offset = result.volts_per_1000rpm, result.offset_V
    if slope is not None and offset is not None and known(slope) and known(offset):
        ends = x_limits
        series.insert(0, Series("fit", ends, tuple(offset + slope * x / 1000 for x in ends), joined=True))
    label = "" if slope is None or not known(slope) else f", {fixed(slope, 2)} V each 1000 rpm"
    return PlotView(
        title=f"V against rpm{label}",
        x_low=x_limits[0],
        x_high=x_limits[1],
        x_ticks=ticks(x_limits, most=3),
        y_low=y_limits[0],
        y_high=y_limits[1],
        y_ticks=ticks(y_limits),
        series=tuple(series),
        empty="" if len(xs) else f"no aligned rows{'' if snapshot.finished else ' yet'}",
    )


def _series(role: str, xs: NDArray[np.float64], ys: NDArray[np.float64]) -> Series:
    thin_xs, thin_ys = thin(xs, ys)
    return Series(role, tuple(thin_xs.tolist()), tuple(thin_ys.tolist()))


def _band(value: float | None, half: float | None) -> Band | None:
    if value is None or half is None or not (known(value) and known(half)):
        return None
    return Band(value - half, value + half)


def _union(ranges: list[Range | None]) -> Range | None:
    seen = [limits for limits in ranges if limits is not None]
    if not seen:
        return None
    return min(low for low, _ in seen), max(high for _, high in seen)


class _TimeAxis(TypedDict):
    x_low: float
    x_high: float
    x_ticks: tuple[Tick, ...]
    scrolls: bool


def _time_axis(snapshot: Snapshot, span_s: float) -> _TimeAxis:
    if snapshot.finished:
        return _whole_axis(snapshot)
    t_s = snapshot.t_s
    ago_s = [span_s * quarter / 4 for quarter in range(4, -1, -1)]
    labels = tuple(Tick(t_s - ago, f"-{ago:.0f} s" if ago else "now") for ago in ago_s)
    return {"x_low": t_s - span_s, "x_high": t_s, "x_ticks": labels, "scrolls": True}


def _whole_axis(snapshot: Snapshot) -> _TimeAxis:
    """From the first to the last row or reading; there is no "now" any more."""
    times = [each for each in (snapshot.rows.time_s, snapshot.raw_speed.time_s) if len(each)]
    first_s = min((float(each[0]) for each in times), default=0.0)
    last_s = max(max((float(each[-1]) for each in times), default=0.0), first_s + 4.0)
    places = [first_s + (last_s - first_s) * quarter / 4 for quarter in range(5)]
    labels = tuple(Tick(place, clock(place)) for place in places)
    return {"x_low": first_s, "x_high": last_s, "x_ticks": labels, "scrolls": False}
