"""Rated volts over time with the limit, and the speed under them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.job.words import two_digits
from daq.model.counted import counted
from daq.report.content import Figure
from daq.report.figures.look import BLUE, INK, PALE, RUST, beside, drawing, level, panels, places
from daq.report.figures.svg import inline_svg
from daq.report.figures.thinning import thinned, thinned_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from daq.cards.machine import MachineCard
    from daq.run.analysis import Analysis
    from daq.run.rows import AlignedRows

__all__ = ["rated_over_time"]

_TITLE = "Volts at rated speed, over time"


def rated_over_time(
    analysis: Analysis, machine: MachineCard | None, name: str, coverage: float | None = None
) -> Figure | None:
    """Draw it; None where no rated output can be stated.

    Args:
        analysis: of the run.
        machine: its card.
        name: of the figure.
        coverage: factor of the ± where it is not the run's own.
    """
    rows, result = analysis.rows, analysis.result
    if machine is None or result.rated_voltage_V is None or not np.any(np.isfinite(rows.rated_voltage_V)):
        return None
    with drawing():
        figure, (top, bottom) = panels((1.9, 0.8), words_beside=True)
        wide = _wide(analysis, coverage)
        words = _draw_volts(top, analysis, wide)
        words += _draw_speed(bottom, rows, machine)
        description = _description(analysis, machine, wide)
        svg = inline_svg(figure, name=name, title=_TITLE, description=description)
    return Figure(name, _TITLE, " ".join(word for word in words if word), description, svg)


def _wide(analysis: Analysis, coverage: float | None) -> float:
    if coverage is None:
        return analysis.result.expanded_uncertainty_V or 0.0
    return coverage * (analysis.result.standard_uncertainty_V or 0.0)


def _draw_volts(axes: Axes, analysis: Analysis, wide: float) -> list[str]:
    rows, result = analysis.rows, analysis.result
    counts = (rows.mark == Mark.GOOD) & np.isfinite(rows.rated_voltage_V)
    # What only repeats a value says nothing that its first reading does not.
    out = (rows.mark != Mark.GOOD) & (rows.mark != Mark.REPEATED) & np.isfinite(rows.rated_voltage_V)
    value = result.rated_voltage_V or 0.0
    low, high = _reach(rows.rated_voltage_V[counts], value, wide, result.minimum_V)
    axes.axhspan(value - wide, value + wide, facecolor=PALE, edgecolor="none", zorder=1)
    axes.axhline(value, color=BLUE, linewidth=1.2, zorder=2)
    time_s, volts = rows.time_s[counts], rows.rated_voltage_V[counts]
    near = (volts >= low) & (volts <= high)
    shown = np.flatnonzero(near)[thinned(time_s[near], volts[near])]
    axes.plot(time_s[shown], volts[shown], "o", color=BLUE, markersize=2.2, markeredgewidth=0, zorder=3)
    inside = out & (rows.rated_voltage_V >= low) & (rows.rated_voltage_V <= high)
    kept = thinned(rows.time_s[inside], rows.rated_voltage_V[inside])
    axes.plot(
        rows.time_s[inside][kept],
        rows.rated_voltage_V[inside][kept],
        "x",
        color=RUST,
        markersize=4,
        markeredgewidth=0.9,
        zorder=4,
    )
    axes.set_ylim(low, high)
    least = bool(result.unknown_errors)
    _words_beside(axes, _result_words(value, wide, least=least), value, result.minimum_V, low, high)
    axes.set_title("Volts at rated speed, V")
    far = int(out.sum()) - int(inside.sum())
    stray = int(np.sum((volts < low) | (volts > high)))
    return [
        f"Dots: rows that count; band: the result with its ±{', which is a lower bound' if least else ''}.",
        _left_out_words(rows, int(inside.sum()), far),
        f"{counted(stray, 'row that counts lies', 'rows that count lie')} beyond the edge of the picture."
        if stray
        else "",
        thinned_words(int(near.sum()), len(shown), "rows"),
    ]


def _reach(
    volts: NDArray[np.float64], value: float, wide: float, minimum: float | None
) -> tuple[float, float]:
    """Lowest and highest volts of the panel: the rows that count, the result, and the limit with room under it."""
    ends = [*np.percentile(volts, [1.0, 99.0]), value - wide, value + wide]
    if minimum is not None:
        ends.append(minimum)
    low, high = float(min(ends)), float(max(ends))
    room = max(0.14 * (high - low), 0.01 * abs(value), 0.01)
    return low - (1.4 * room if minimum is not None else room), high + 1.6 * room


def _result_words(value: float, wide: float, *, least: bool) -> str:
    decimals = two_digits(wide)
    words = f"{value:.{decimals}f}\n± {wide:.{decimals}f} V"
    return f"{words}\nat least" if least else words


def _words_beside(
    axes: Axes, result_words: str, value: float, minimum: float | None, low: float, high: float
) -> None:
    """The result and the limit, with hatching where the limit is missed."""
    words = {value: result_words}
    if minimum is not None:
        axes.axhspan(low, minimum, facecolor="none", edgecolor=RUST, hatch="////", linewidth=0, zorder=0.5)
        words[minimum] = f"limit: at\nleast {minimum:g} V"
    falling = sorted(words, reverse=True)
    for each, place in zip(falling, places(falling, high - low, near=0.2), strict=True):
        if each == minimum:
            level(axes, each, words[each], place=place)
        else:
            beside(axes, each, words[each], place=place)


def _draw_speed(axes: Axes, rows: AlignedRows, machine: MachineCard) -> list[str]:
    rated, tolerance = machine.rated_speed_rpm, machine.speed_tolerance_rpm
    axes.axhspan(rated - tolerance, rated + tolerance, facecolor=PALE, edgecolor="none", zorder=1)
    shown = thinned(rows.time_s, rows.speed_rpm)
    axes.plot(rows.time_s[shown], rows.speed_rpm[shown], "o", color=INK, markersize=1.8, markeredgewidth=0)
    speeds = rows.speed_rpm[np.isfinite(rows.speed_rpm)]
    low, high = min(float(np.min(speeds)), rated - tolerance), max(float(np.max(speeds)), rated + tolerance)
    room = 0.12 * (high - low)
    axes.set_ylim(low - room, high + room)
    beside(axes, rated, f"rated {rated:.0f}\n± {tolerance:.0f} rpm")
    axes.set_title("Speed, rpm")
    axes.set_xlabel("time, s")
    return []


def _left_out_words(rows: AlignedRows, drawn: int, outside: int) -> str:
    """How many rows don't count, why, and how many of them lie beyond the picture's edge; "" for none."""
    kinds, counts = np.unique(rows.mark[rows.mark != Mark.GOOD], return_counts=True)
    if not len(kinds):
        return ""
    why = ", ".join(
        f"{int(count)} {Mark(int(kind)).words}" for kind, count in zip(kinds, counts, strict=True)
    )
    crosses = ", drawn as crosses" if drawn else ""
    if drawn and Mark.REPEATED in kinds:
        crosses += " but for those that only repeat"
    beyond = f" {outside} of them lie beyond the edge of the picture." if outside else ""
    return f"Left out of the result: {why}{crosses}.{beyond}"


def _description(analysis: Analysis, machine: MachineCard, wide: float) -> str:
    result, rows = analysis.result, analysis.rows
    value = result.rated_voltage_V or 0.0
    limit = (
        "no limit is known" if result.minimum_V is None else f"the limit is at least {result.minimum_V:g} V"
    )
    best = " at best" if result.unknown_errors else ""
    return (
        f"{counted(result.rows - result.rows_rejected, 'row')} from {rows.time_s[0]:.0f} to {rows.time_s[-1]:.0f} s "
        f"around {value:.2f} V, known to {wide:.2f} V{best}, at {machine.rated_speed_rpm:.0f} rpm; "
        f"{limit}. Under it the speed."
    )
