"""How every plot of a report looks: few inks, direct labels, marks that differ by shape and not by colour alone.

Plots are drawn five inches wide with type of ten points, so that they can be
read on a phone at full width and on paper at half of it.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "BLUE",
    "FAINT",
    "INK",
    "PALE",
    "RUST",
    "SOFT",
    "WIDTH_IN",
    "beside",
    "drawing",
    "level",
    "panels",
    "places",
]

INK, SOFT, FAINT = "#1b232c", "#56616d", "#d5dbe1"
BLUE, RUST = "#0b5a8f", "#a8430c"
PALE = "#cfe0ee"
WIDTH_IN = 5.0
_LEFT_IN, _RIGHT_IN, _WORDS_IN = 0.62, 0.12, 1.12
_TITLE_IN, _GAP_IN, _TICKS_IN, _AXIS_IN = 0.3, 0.14, 0.24, 0.5

_STYLE: Any = {  # its type names every setting, and not the same ones from version to version
    "svg.fonttype": "none",
    "svg.hashsalt": "spinvolt report",
    "text.parse_math": False,  # a name may hold a dollar
    "font.family": "DejaVu Sans",  # comes with matplotlib and is wide: no page's type needs more room
    "font.size": 10,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.titlesize": 10,
    "axes.titlelocation": "left",
    "axes.titlepad": 7,
    "axes.labelsize": 10,
    "axes.facecolor": "none",
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": FAINT,
    "grid.linewidth": 0.6,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": 9.5,
    "ytick.labelsize": 9.5,
    "figure.facecolor": "none",
    "savefig.facecolor": "none",
    "hatch.linewidth": 0.6,
    "hatch.color": "#c9ab9b",
    "path.simplify": False,
}


@contextmanager
def drawing() -> Iterator[None]:
    """Our own look while the body runs, whatever the user has set for other plots."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    import matplotlib as mpl

    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(_STYLE)
        yield


def panels(
    heights_in: Sequence[float], *, share_x: bool = True, words_beside: bool = False
) -> tuple[Figure, list[Axes]]:
    """A figure of panels one above the other, all with the same frame.

    Places are reckoned here, not left to matplotlib's layout: that takes four times as long, and plots
    that stand side by side would not line up.

    Args:
        heights_in: of each panel without its title and its axis, inches.
        share_x: whether they have one horizontal axis, labelled under the last.
        words_beside: leave room for words at the right of the panels.
    """
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    under = [_TICKS_IN] * len(heights_in)
    if share_x:
        under = [*([_GAP_IN] * (len(heights_in) - 1)), _AXIS_IN]
    whole_in = sum(heights_in) + sum(under) + _TITLE_IN * len(heights_in)
    figure = Figure(figsize=(WIDTH_IN, whole_in))
    FigureCanvasSVG(figure)
    wide_in = WIDTH_IN - _LEFT_IN - (_WORDS_IN if words_beside else _RIGHT_IN)
    axes: list[Axes] = []
    at_in = whole_in
    for height_in, below_in in zip(heights_in, under, strict=True):
        at_in -= _TITLE_IN + height_in
        frame = (_LEFT_IN / WIDTH_IN, at_in / whole_in, wide_in / WIDTH_IN, height_in / whole_in)
        axes.append(figure.add_axes(frame, sharex=axes[0] if axes and share_x else None))
        at_in -= below_in
    for each in axes[:-1] if share_x else []:
        each.tick_params(labelbottom=False)
    return figure, axes


def level(axes: Axes, value: float, text: str, *, limit: bool = True, place: str = "center") -> None:
    """A level across a panel, dashed for a limit and else dotted, with its words beside the panel.

    Args:
        axes: the panel.
        value: of the level.
        text: one or two short lines; they stand outside, where they hide no reading.
        limit: whether it is a limit.
        place: "center", "bottom" (words over the level) or "top" (under it).
    """
    axes.axhline(
        value, color=INK, linewidth=1.1 if limit else 1.0, linestyle="--" if limit else ":", zorder=2.4
    )
    beside(axes, value, text, place=place)


def beside(axes: Axes, value: float, text: str, *, place: str = "center") -> None:
    """Words at the right of a panel, at the height of a value."""
    axes.annotate(
        text.replace("-", "\u2212"),
        (1.0, value),
        xycoords=axes.get_yaxis_transform(),
        xytext=(4, 0),
        textcoords="offset points",
        ha="left",
        va=place,
        fontsize=9.5,
        linespacing=1.15,
        annotation_clip=False,
    )


def places(values: Sequence[float], reach: float, near: float = 0.3) -> list[str]:
    """Where the words of levels go so that those of neighbours don't meet, highest level first.

    Args:
        values: the levels, falling.
        reach: height of the panel in the same unit.
        near: part of the height that two lines of words take.
    """
    found = []
    for place, value in enumerate(values):
        over = place > 0 and values[place - 1] - value < near * reach
        under = place + 1 < len(values) and value - values[place + 1] < near * reach
        found.append("center" if over == under else ("top" if over else "bottom"))
    return found
