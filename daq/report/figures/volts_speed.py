"""Volts against speed with the fitted line and its band, and what is left over around the line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.job.words import amount
from daq.model.counted import counted
from daq.report.content import Figure
from daq.report.figures.look import BLUE, INK, PALE, SOFT, drawing, panels
from daq.report.figures.svg import inline_svg
from daq.report.figures.thinning import thinned, thinned_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from daq.rated.line_fit import LineFit
    from daq.run.analysis import Analysis

__all__ = ["line_of", "mark_limit", "volts_against_speed"]

Floats = NDArray[np.float64]

_TITLE = "Volts against speed"
_LEAST_ROWS = 2


def volts_against_speed(analysis: Analysis, name: str) -> Figure | None:
    """Draw it; None where too few rows count."""
    rows = analysis.rows
    counts = (rows.mark == Mark.GOOD) & np.isfinite(rows.speed_rpm) & np.isfinite(rows.voltage_V)
    if int(counts.sum()) < _LEAST_ROWS:
        return None
    speed, volts, line = rows.speed_rpm[counts], rows.voltage_V[counts], line_of(analysis)
    with drawing():
        figure, axes = panels((2.4,) if line is None else (1.65, 1.05))
        shown = thinned(speed, volts)
        axes[0].plot(speed[shown], volts[shown], "o", color=BLUE, markersize=2.2, markeredgewidth=0, zorder=3)
        axes[0].set_title("Volts as read, V")
        axes[-1].set_xlabel("speed, rpm")
        if line is None:
            words = ["The speed moved too little for a line through the rows."]
        else:
            words = _draw_line(axes[0], axes[1], line, speed, volts)
            axes[0].set_ylim(
                min(0.0, line.offset), 1.12 * max(float(np.max(volts)), analysis.result.minimum_V or 0.0)
            )
        mark_limit(axes[0], analysis)
        words.append(thinned_words(len(speed), len(shown), "rows"))
        description = _description(line, speed, volts)
        svg = inline_svg(figure, name=name, title=_TITLE, description=description)
    return Figure(name, _TITLE, " ".join(word for word in words if word), description, svg)


def line_of(analysis: Analysis) -> LineFit | None:
    """The straight line through the rows that count; None where the speed moved too little."""
    return analysis.output.proportion.line if analysis.output is not None else None


def mark_limit(axes: Axes, analysis: Analysis) -> None:
    """The least volts at rated speed: a mark, with its words at the foot of the plot, where no rows are."""
    minimum, rated = analysis.result.minimum_V, analysis.result.rated_speed_rpm
    if minimum is None or rated is None:
        return
    axes.plot([rated], [minimum], "_", color=INK, markersize=16, markeredgewidth=2.2, zorder=5)
    foot = axes.get_ylim()[0]
    axes.plot([rated, rated], [foot, minimum], color=INK, linewidth=0.8, linestyle=(0, (1, 2)), zorder=2)
    axes.annotate(
        f"limit: at least {minimum:g} V at {rated:.0f} rpm",
        (rated, 0.0),
        xycoords=axes.get_xaxis_transform(),
        xytext=(-4, 4),
        textcoords="offset points",
        ha="right",
        fontsize=9.5,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.6},
        zorder=6,
    )


def _draw_line(top: Axes, bottom: Axes, line: LineFit, speed: Floats, volts: Floats) -> list[str]:
    low, high = float(np.min(speed)), float(np.max(speed))
    ends = np.array([low, high])
    top.plot(ends, line.offset + line.slope * ends, "-", color=INK, linewidth=1.1, zorder=4)
    beyond = np.array([0.0, low])
    top.plot(beyond, line.offset + line.slope * beyond, ":", color=SOFT, linewidth=1.1, zorder=2)
    top.set_xlim(0.0, 1.05 * high)
    over = np.linspace(low, high, 40)
    wide = np.array([2.0 * line.u_at(float(x)) for x in over])
    left = volts - line.offset - line.slope * speed
    shown = thinned(speed, left)
    bottom.fill_between(over, -wide, wide, facecolor=PALE, edgecolor=BLUE, linewidth=0.6, zorder=1)
    bottom.axhline(0.0, color=INK, linewidth=1.1, zorder=2)
    bottom.plot(speed[shown], left[shown], "o", color=BLUE, markersize=2.2, markeredgewidth=0, zorder=3)
    # Six times the usual distance, so that a few rows far off don't make the others a line.
    reach = max(
        min(6.0 * float(np.median(np.abs(left))), 1.15 * float(np.max(np.abs(left)))),
        1.5 * float(np.max(wide)),
    )
    bottom.set_ylim(-reach, reach)
    bottom.set_title("Away from the line, V")
    far = int(np.sum(np.abs(left) > reach))
    return [
        f"The line meets 0 rpm at {amount(line.offset, line.u_offset, 'V')}; dotted where nothing was read. "
        "Below, enlarged: the rows around the line, with the line's ± as a band.",
        f"{counted(far, 'row lies', 'rows lie')} beyond the edge of the lower picture." if far else "",
    ]


def _description(line: LineFit | None, speed: Floats, volts: Floats) -> str:
    said = (
        f"{counted(len(speed), 'row')} from {np.min(speed):.0f} to {np.max(speed):.0f} rpm and from "
        f"{np.min(volts):.2f} to {np.max(volts):.2f} V."
    )
    if line is None:
        return said
    return f"{said} A straight line rises through them by {1000.0 * line.slope:.2f} V for each 1000 rpm."
