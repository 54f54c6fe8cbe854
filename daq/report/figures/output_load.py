"""The alternator's amps against speed, with what the loads draw: where it gains and where it loses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from daq.report.content import Figure
from daq.report.figures.look import BLUE, INK, PALE, RUST, SOFT, beside, drawing, panels, places
from daq.report.figures.svg import inline_svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from daq.cards.machine import MachineCard
    from daq.job.charge.budget import ChargeBudget
    from daq.job.charge.output_curve import OutputCurve

__all__ = ["output_against_loads"]

Floats = NDArray[np.float64]

_TITLE = "Output against speed, and the loads"
_STEPS = 60
_NEAR = 0.04


def output_against_loads(
    curve: OutputCurve, budget: ChargeBudget, machine: MachineCard, name: str
) -> Figure | None:
    """Draw it; None where the output was read at no speed."""
    if not curve.points:
        return None
    with drawing():
        figure, (axes,) = panels((2.7,), words_beside=True)
        _draw_curve(axes, curve)
        top = max(point.current_a + 2.0 * point.u_current_a for point in curve.points)
        drawn = budget.drawn.mean.value if budget.drawn.by_load else None
        if drawn is not None:
            _draw_loads(axes, budget, drawn)
            top = max(top, drawn + 2.0 * budget.drawn.mean.u)
        axes.set_ylim(0.0, 1.25 * max(top, 0.5))
        room = 0.06 * max(curve.fastest_rpm - curve.slowest_rpm, 100.0)
        axes.set_xlim(curve.slowest_rpm - room, curve.fastest_rpm + room)
        _draw_break_even(axes, budget, drawn)
        _draw_speeds(axes, machine)
        axes.set_title("Amps, A")
        axes.set_xlabel("speed, rpm")
        description = _description(curve, budget, drawn)
        svg = inline_svg(figure, name=name, title=_TITLE, description=description)
    return Figure(name, _TITLE, _caption(curve, drawn), description, svg)


def _draw_curve(axes: Axes, curve: OutputCurve) -> None:
    at = [curve.at(speed) for speed in _speeds(curve)]
    known = [(point.speed_rpm, point.current_a, point.u_current_a) for point in at if point is not None]
    speed, amps, u = (np.array(column) for column in zip(*known, strict=True))
    axes.fill_between(speed, amps - 2.0 * u, amps + 2.0 * u, facecolor=PALE, edgecolor="none", zorder=1)
    read = (speed >= curve.points[0].speed_rpm) & (speed <= curve.points[-1].speed_rpm)
    axes.plot(speed[read], amps[read], "-", color=BLUE, linewidth=1.4, zorder=3)
    for beyond in (speed <= curve.points[0].speed_rpm, speed >= curve.points[-1].speed_rpm):
        axes.plot(speed[beyond], amps[beyond], ":", color=BLUE, linewidth=1.2, zorder=3)
    axes.errorbar(
        [point.speed_rpm for point in curve.points],
        [point.current_a for point in curve.points],
        yerr=[2.0 * point.u_current_a for point in curve.points],
        fmt="o",
        color=BLUE,
        markersize=5,
        capsize=3,
        zorder=4,
    )
    last = curve.points[-1]
    axes.annotate(
        "the alternator gives",
        (last.speed_rpm, last.current_a),
        xytext=(-6, 8),
        textcoords="offset points",
        ha="right",
    )


def _speeds(curve: OutputCurve) -> list[float]:
    """Speeds at which to draw the curve: those that were read, and others well away from them.

    Near a speed that was read the curve takes its amps as they are, which would show as a small step.
    """
    read = [point.speed_rpm for point in curve.points]
    grid = np.linspace(curve.slowest_rpm, curve.fastest_rpm, _STEPS)
    between = [float(s) for s in grid if all(abs(s - each) > _NEAR * s for each in read)]
    return sorted({*read, *between})


def _draw_loads(axes: Axes, budget: ChargeBudget, drawn: float) -> None:
    wide = 2.0 * budget.drawn.mean.u
    axes.axhspan(
        drawn - wide,
        drawn + wide,
        facecolor="none",
        edgecolor=RUST,
        hatch="....",
        linewidth=0,
        alpha=0.6,
        zorder=1.5,
    )
    axes.axhline(drawn, color=RUST, linewidth=1.4, linestyle=(0, (6, 2)), zorder=2.5)
    every = budget.drawn.all_on.value
    more = every > 1.02 * drawn
    words = [(every, f"all loads\non: {every:.1f} A")] if more else []
    mean = "loads, on\naverage" if more else "loads draw"
    words.append((drawn, f"{mean}:\n{drawn:.1f} A"))
    if more:
        axes.axhline(every, color=RUST, linewidth=1.0, linestyle=(0, (1, 2)), zorder=2.5)
    reach = 1.25 * max(every, 1.0)
    for (value, text), place in zip(words, places([value for value, _ in words], reach), strict=True):
        beside(axes, value, text, place=place)


def _draw_break_even(axes: Axes, budget: ChargeBudget, drawn: float | None) -> None:
    found = budget.break_even
    if found is None or found.speed_rpm is None or drawn is None:
        return
    axes.plot([found.speed_rpm], [drawn], "D", color=INK, markerfacecolor="white", markersize=7, zorder=5)
    axes.annotate(
        f"breaks even at {round(found.speed_rpm, -1):.0f} rpm",
        (found.speed_rpm, drawn),
        xytext=(8, -9),
        textcoords="offset points",
        ha="left",
        va="top",
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.6},
        zorder=6,
    )


def _draw_speeds(axes: Axes, machine: MachineCard) -> None:
    low, high = axes.get_xlim()
    for speed, word in ((machine.idle_speed_rpm, "idle"), (machine.work_speed_rpm, "work")):
        if speed is None or not low <= speed <= high:
            continue
        axes.axvline(speed, color=SOFT, linewidth=0.9, linestyle=(0, (2, 3)), zorder=1)
        near_end = speed > 0.5 * (low + high)
        axes.annotate(
            word,
            (speed, 0.0),
            xycoords=axes.get_xaxis_transform(),
            xytext=(-3 if near_end else 3, 3),
            textcoords="offset points",
            ha="right" if near_end else "left",
            color=SOFT,
        )


def _caption(curve: OutputCurve, drawn: float | None) -> str:
    said = ["Above the dashed line the battery gains, below it loses." if drawn is not None else ""]
    said.append("Dots: speeds at which the output was read; band: its ±; dotted: a little beyond them.")
    if len(curve.points) == 2:
        said.append("Between two speeds only, the band also holds that the shape between them is not known.")
    if len(curve.points) == 1:
        said.append("The output was read at one speed only: how it changes with speed is not known.")
    return " ".join(word for word in said if word)


def _description(curve: OutputCurve, budget: ChargeBudget, drawn: float | None) -> str:
    said = [f"{point.current_a:.1f} A at {point.speed_rpm:.0f} rpm" for point in curve.points]
    loads = (
        "What the loads draw is not known." if drawn is None else f"The loads draw {drawn:.1f} A on average."
    )
    even = budget.break_even.words if budget.break_even is not None else ""
    return f"The alternator gives {', '.join(said)}. {loads} {even}".strip()
