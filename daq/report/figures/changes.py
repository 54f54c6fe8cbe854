"""Readings before and after on scales of their own, each with its ± and its limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from daq.job.words import plain, unit_words
from daq.report.content import Figure
from daq.report.figures.look import BLUE, INK, RUST, SOFT, drawing, panels
from daq.report.figures.svg import inline_svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["MOST_PAIRS", "Pair", "Spot", "changes_figure"]

_TITLE = "Readings before and after"
MOST_PAIRS = 6


@dataclass(frozen=True)
class Spot:
    """A value with its expanded uncertainty."""

    value: float
    wide: float


@dataclass(frozen=True)
class Pair:
    """One reading before and after."""

    title: str
    unit: str
    before: Spot
    after: Spot
    limit: float | None
    limit_text: str
    change: str
    """With its ± and whether it is significant."""


def changes_figure(pairs: Sequence[Pair], name: str) -> Figure | None:
    """Draw up to six; None for none."""
    pairs = pairs[:MOST_PAIRS]
    if not pairs:
        return None
    with drawing():
        figure, axes = panels([0.5] * len(pairs) if len(pairs) > 1 else [0.7], share_x=False)
        for each, pair in zip(axes, pairs, strict=True):
            _draw(each, pair)
        description = " ".join(_described(pair) for pair in pairs)
        svg = inline_svg(figure, name=name, title=_TITLE, description=description)
    caption = "Hollow square: before. Dot: after. The bars are the ±, the upright dashes the limit."
    return Figure(name, _TITLE, caption, description, svg)


def _draw(axes: Axes, pair: Pair) -> None:
    for spot, at, colour, mark, face in (
        (pair.before, 1.0, RUST, "s", "white"),
        (pair.after, 0.0, BLUE, "o", BLUE),
    ):
        axes.errorbar(
            [spot.value],
            [at],
            xerr=[spot.wide],
            fmt=mark,
            color=colour,
            markerfacecolor=face,
            markersize=6,
            markeredgewidth=1.3,
            capsize=3,
            zorder=4,
        )
    axes.annotate(
        "",
        (pair.after.value, 0.18),
        (pair.before.value, 0.82),
        arrowprops={"arrowstyle": "->", "color": SOFT, "linewidth": 0.9},
    )
    if pair.limit is not None:
        axes.axvline(pair.limit, color=INK, linewidth=1.2, linestyle="--", zorder=2)
    ends = [pair.before.value - pair.before.wide, pair.before.value + pair.before.wide]
    ends += [pair.after.value - pair.after.wide, pair.after.value + pair.after.wide]
    ends += [pair.limit] if pair.limit is not None else []
    room = max(0.08 * (max(ends) - min(ends)), 0.01 * max(abs(end) for end in ends), 1e-6)
    axes.set_xlim(min(ends) - room, max(ends) + room)
    axes.set_ylim(-0.6, 1.6)
    axes.set_yticks([1.0, 0.0], ["before", "after"])
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", length=0)
    axes.set_title(f"{pair.title}, {unit_words(pair.unit)}")


def _described(pair: Pair) -> str:
    limit = f", limit {pair.limit_text}" if pair.limit_text else ""
    return (
        f"{pair.title}: {plain(round(pair.before.value, 3), pair.unit)} before, "
        f"{plain(round(pair.after.value, 3), pair.unit)} after{limit}; {pair.change}."
    )
