"""Volts against speed of two runs on one plot: before and after."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daq.align.marks import Mark
from daq.report.content import Figure
from daq.report.figures.look import BLUE, INK, RUST, drawing, panels
from daq.report.figures.svg import inline_svg
from daq.report.figures.thinning import thinned, thinned_words
from daq.report.figures.volts_speed import line_of, mark_limit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from daq.run.analysis import Analysis

__all__ = ["both_runs"]

_TITLE = "Volts against speed, before and after"
_COLUMNS = 120


def both_runs(before: Analysis, after: Analysis, name: str, change: str, short: str) -> Figure | None:
    """Draw both; None where one of them has too few rows.

    Args:
        before: the earlier run.
        after: the later one.
        name: of the figure.
        change: the change and whether it is significant, in a sentence.
        short: the same in a few words, to stand in the plot; "" for none.
    """
    if any(int(np.sum(_counts(each))) < 2 for each in (before, after)):
        return None
    with drawing():
        figure, (axes,) = panels((2.7,))
        words = [
            _draw(axes, before, "before", RUST, "s", "none", "--"),
            _draw(axes, after, "after", BLUE, "o", BLUE, "-"),
        ]
        limits = [each.result.minimum_V for each in (before, after) if each.result.minimum_V is not None]
        top = max(float(np.max(each.rows.voltage_V[_counts(each)])) for each in (before, after))
        top = max((top, *limits))
        right = max(float(np.max(each.rows.speed_rpm[_counts(each)])) for each in (before, after))
        if any(line_of(each) is not None for each in (before, after)):
            axes.set_xlim(0.0, 1.16 * right)
            axes.set_ylim(0.0, 1.1 * top)
        else:
            axes.margins(x=0.16, y=0.12)
        mark_limit(axes, after)
        _draw_change(axes, before, after, short)
        axes.set_title("Volts as read, V")
        axes.set_xlabel("speed, rpm")
        description = f"Two sets of volts against speed. {change}"
        svg = inline_svg(figure, name=name, title=_TITLE, description=description)
    caption = f"Hollow squares and dashes: before. Dots and solid line: after. {change}"
    return Figure(name, _TITLE, " ".join((caption, *(word for word in words if word))), description, svg)


def _counts(analysis: Analysis) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    rows = analysis.rows
    good: np.ndarray[tuple[int], np.dtype[np.bool_]] = (
        (rows.mark == Mark.GOOD) & np.isfinite(rows.speed_rpm) & np.isfinite(rows.voltage_V)
    )
    return good


def _draw(axes: Axes, analysis: Analysis, word: str, colour: str, mark: str, face: str, dashes: str) -> str:
    good = _counts(analysis)
    speed, volts = analysis.rows.speed_rpm[good], analysis.rows.voltage_V[good]
    shown = thinned(speed, volts, columns=_COLUMNS)
    axes.plot(
        speed[shown],
        volts[shown],
        mark,
        color=colour,
        markerfacecolor=face,
        markersize=3.2 if face == "none" else 2.2,
        markeredgewidth=0.7 if face == "none" else 0.0,
        zorder=3,
    )
    line = line_of(analysis)
    if line is not None:
        ends = np.array([float(np.min(speed)), float(np.max(speed))])
        axes.plot(ends, line.offset + line.slope * ends, color=INK, linewidth=1.1, linestyle=dashes, zorder=4)
    last = int(np.argmax(speed))
    axes.annotate(
        word, (float(speed[last]), float(volts[last])), xytext=(6, 0), textcoords="offset points", va="center"
    )
    return thinned_words(len(speed), len(shown), f"rows {word}", _COLUMNS)


def _draw_change(axes: Axes, before: Analysis, after: Analysis, short: str) -> None:
    """An arrow from the one result to the other, at rated speed."""
    was, now = before.result.rated_voltage_V, after.result.rated_voltage_V
    rated = after.result.rated_speed_rpm
    if was is None or now is None or rated is None or not short:
        return
    high, low = axes.get_ylim()[1], axes.get_ylim()[0]
    if abs(now - was) > 0.05 * (high - low):
        arrow = {"arrowstyle": "->", "color": INK, "linewidth": 1.2, "shrinkA": 2, "shrinkB": 2}
        axes.annotate("", (rated, now), (rated, was), arrowprops=arrow, zorder=5)
    axes.annotate(
        f"change: {short}",
        (0.0, 1.0),
        xycoords="axes fraction",
        xytext=(5, -3),
        textcoords="offset points",
        va="top",
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.6},
        zorder=6,
    )
