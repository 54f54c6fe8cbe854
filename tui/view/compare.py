"""What the compare screen shows: two runs over each other, the change between them, and what it means."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tui.text import clean
from tui.view.numbers import fixed, known, own_error_unknown, plus_minus, screen_decimals, with_uncertainty
from tui.view.plots import thin
from tui.view.scale import Range, axis_range, spread, ticks
from tui.view.shelf import Paragraph
from tui.view.state import Level, PlotView, RatedView, Series, Tone, VerdictView
from tui.view.verdict import TONES, shape_of, words_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daq.run.rows import AlignedRows
    from daq.verdict.change import Change
    from daq.verdict.result import Result

__all__ = ["CompareView", "Side", "compare_view"]

_ROLES = ("before", "after")
_DOUBTS = ("machines differ", "still being recorded", "unknown error", "connected in", "loads differ")


class Side(NamedTuple):
    """One of the two runs."""

    name: str
    """Its file."""
    machine: str
    rows: AlignedRows
    problems: tuple[str, ...] = ()
    """What is wrong with the file, in sentences."""
    going_on: bool = False
    """It is being recorded at this moment."""


@dataclass(frozen=True)
class CompareView:
    """Everything the compare screen shows."""

    heading: str
    change: RatedView
    meaning: VerdictView
    told: tuple[Paragraph, ...]
    volts: PlotView
    """Volts against speed, both runs with their lines."""
    rated: PlotView
    """Volts at rated speed against speed, with both results and the limit."""


def compare_view(change: Change, before: Side, after: Side) -> CompareView:
    """Work out everything the compare screen shows."""
    machines = list(dict.fromkeys(clean(side.machine) for side in (before, after) if side.machine))
    return CompareView(
        heading=" / ".join(machines) or "no machine card",
        change=_change(change),
        meaning=_meaning(change),
        told=_told(change, before, after),
        volts=_volts(change, before.rows, after.rows),
        rated=_rated(change, before.rows, after.rows),
    )


def _change(change: Change) -> RatedView:
    value, expanded = change.change_V, change.expanded_uncertainty_V
    if value is None:
        return RatedView("--.-", "V", "", "at rated speed", caption="change")
    decimals = min(screen_decimals(expanded, None), 1 if abs(value) >= 9.95 else 2)
    digits = fixed(value, decimals)
    sign = "" if digits.startswith("-") else "+"
    percent = "" if change.change_percent is None else f", {change.change_percent:+.1f} %"
    interval = "" if expanded is None else plus_minus(expanded)
    unknown = (*change.before.unknown_errors, *change.after.unknown_errors)
    return RatedView(
        f"{sign}{digits}",
        "V",
        interval,
        f"after less before{percent}",
        caption="change:",
        left_out=own_error_unknown(sorted(unknown)) if interval else "",
    )


def _meaning(change: Change) -> VerdictView:
    limit = _limit(change)
    if change.change_V is None:
        return VerdictView("NONE", "–", "can't be compared", "quiet", limit, "")
    if not change.significant:
        return VerdictView("ALIKE", "≈", "no change shown", "quiet", limit, "within the uncertainty")
    doubt = "machines differ" if change.same_machine is False else "loads differ" * bool(change.loads_differ)
    if doubt:
        word, shape = ("MORE", "+") if change.change_V > 0 else ("LESS", "-")
        return VerdictView(word, shape, doubt, "doubt", limit, "no repair shown")
    if change.change_V > 0:
        return VerdictView("MORE", "+", "a significant rise", "good", limit, "beyond the uncertainty")
    return VerdictView("LESS", "-", "a significant fall", "bad", limit, "beyond the uncertainty")


def _limit(change: Change) -> str:
    limits = {result.minimum_V for result in (change.before, change.after)}
    (minimum_v, *others) = limits
    if others:
        return "the limits differ"
    return "no limit is set" if minimum_v is None else f"limit at least {fixed(minimum_v, 1)} V"


def _told(change: Change, before: Side, after: Side) -> tuple[Paragraph, ...]:
    sides: list[Paragraph] = [
        (_side(word, mark, result, side), TONES[result.verdict])
        for word, mark, result, side in (
            ("before", "○", change.before, before),
            ("after ", "●", change.after, after),
        )
    ]
    problems: list[Paragraph] = [
        (f"{word}: {clean(problem, 500)}", "doubt")
        for word, side in zip(_ROLES, (before, after), strict=True)
        for problem in side.problems
    ]
    return (*sides, *((clean(reason, 500), _tone(reason)) for reason in change.reasons), *problems)


def _tone(reason: str) -> Tone | None:
    """Doubts stand out among the reasons."""
    return "doubt" if any(word in reason for word in _DOUBTS) else None


def _side(word: str, mark: str, result: Result, side: Side) -> str:
    value = "no rated output"
    if result.rated_voltage_V is not None and known(result.rated_voltage_V):
        least = bool(result.unknown_errors)
        value = with_uncertainty(result.rated_voltage_V, result.expanded_uncertainty_V, "V", least=least)
    ended = not side.going_on
    shape, (_, words) = shape_of(result.verdict, ended=ended), words_of(result.verdict, ended=ended)
    return f"{word}  {shape} {value}, {words}  ({clean(side.name, 60)})"


def _good(rows: AlignedRows) -> NDArray[np.bool_]:
    good: NDArray[np.bool_] = (
        (rows.mark == 0) & np.isfinite(rows.speed_rpm) & np.isfinite(rows.rated_voltage_V)
    )
    return good


def _volts(change: Change, before: AlignedRows, after: AlignedRows) -> PlotView:
    x_limits, y_limits = _limits(before, after, "voltage_V", least=2.0)
    series: list[Series] = []
    for role, rows, result in zip(_ROLES, (before, after), (change.before, change.after), strict=True):
        good = _good(rows)
        series.append(_points(role, rows.speed_rpm[good], rows.voltage_V[good]))
        slope, offset = result.volts_per_1000rpm, result.offset_V
        if slope is not None and offset is not None and known(slope) and known(offset):
            ends = tuple(offset + slope * x / 1000 for x in x_limits)
            series.append(Series(role, x_limits, ends, joined=True))
    return _plot("V against rpm; dashed: before, full: after", x_limits, y_limits, series)


def _rated(change: Change, before: AlignedRows, after: AlignedRows) -> PlotView:
    results = (change.before, change.after)
    wanted = [r.rated_voltage_V for r in results] + [r.minimum_V for r in results]
    x_limits, y_limits = _limits(before, after, "rated_voltage_V", least=1.0, also=wanted)
    series = [
        _points(role, rows.speed_rpm[_good(rows)], rows.rated_voltage_V[_good(rows)])
        for role, rows in zip(_ROLES, (before, after), strict=True)
    ]
    levels = [
        Level(result.rated_voltage_V, role, role)
        for role, result in zip(_ROLES, results, strict=True)
        if result.rated_voltage_V is not None and known(result.rated_voltage_V)
    ]
    if change.after.minimum_V is not None:
        levels.append(Level(change.after.minimum_V, "limit", "limit"))
    return _plot("volts at rated speed against rpm", x_limits, y_limits, series, tuple(levels))


def _plot(title: str, x: Range, y: Range, series: list[Series], levels: tuple[Level, ...] = ()) -> PlotView:
    return PlotView(
        title=title,
        x_low=x[0],
        x_high=x[1],
        x_ticks=ticks(x, most=4),
        y_low=y[0],
        y_high=y[1],
        y_ticks=ticks(y),
        series=tuple(series),
        levels=levels,
        empty="" if any(one.xs for one in series) else "no aligned rows",
    )


def _limits(
    before: AlignedRows,
    after: AlignedRows,
    name: str,
    *,
    least: float,
    also: list[float | None] | None = None,
) -> tuple[Range, Range]:
    speeds = [spread(rows.speed_rpm[_good(rows)]) for rows in (before, after)]
    values = [spread(getattr(rows, name)[_good(rows)]) for rows in (before, after)]
    values += [(one, one) for one in also or [] if one is not None and known(one)]
    x = axis_range(_union(speeds) or (0.0, 4000.0), None, least=200.0)
    return x, axis_range(_union(values) or (0.0, 30.0), None, least=least)


def _union(ranges: list[Range | None]) -> Range | None:
    seen = [one for one in ranges if one is not None]
    return (min(low for low, _ in seen), max(high for _, high in seen)) if seen else None


def _points(role: str, xs: NDArray[np.float64], ys: NDArray[np.float64]) -> Series:
    thin_xs, thin_ys = thin(xs, ys)
    return Series(role, tuple(thin_xs.tolist()), tuple(thin_ys.tolist()))
