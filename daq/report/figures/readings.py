"""Readings of a recording over time, as they came, with the value that was taken from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from daq.job.words import unit_words
from daq.model.counted import counted
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.report.content import Figure
from daq.report.figures.look import BLUE, RUST, drawing, level, panels, places
from daq.report.figures.svg import inline_svg
from daq.report.figures.thinning import thinned, thinned_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from daq.run.channels import ChannelData, RunData

__all__ = ["Level", "readings_over_time"]

_MOVING_RPM = 200.0


@dataclass(frozen=True)
class Level:
    """A level to draw across a quantity's panel."""

    quantity: Quantity
    value: float
    text: str
    limit: bool
    """A limit, dashed; else the value that was taken, dotted."""


def readings_over_time(
    data: RunData, name: str, title: str, levels: Sequence[Level] = (), *, speed: bool = True
) -> Figure | None:
    """Draw each channel in a panel of its own; None where no channel holds a value.

    Args:
        data: the run.
        name: of the figure.
        title: in words.
        levels: what to draw across the panels.
        speed: whether to draw the speed too, where the engine ran.
    """
    shown = [channel for channel in data.channels if _worth_showing(channel, speed)]
    if not any(bool(np.any(channel.usable)) for channel in shown):
        return None
    heights = [1.25, *(0.75 for _ in shown[1:])]
    with drawing():
        figure, axes = panels(heights, words_beside=bool(levels))
        words: list[str] = []
        for each, channel in zip(axes, shown, strict=True):
            words += _draw(each, channel, [one for one in levels if one.quantity is channel.entry.quantity])
        axes[-1].set_xlabel("time, s")
        description = " ".join(_described(channel) for channel in shown)
        svg = inline_svg(figure, name=name, title=title, description=description)
    return Figure(name, title, " ".join(dict.fromkeys(words)), description, svg)


def _worth_showing(channel: ChannelData, speed: bool) -> bool:
    quantity = channel.entry.quantity
    if quantity in {Quantity.DEVICE_TIME, Quantity.REVOLUTIONS} or not len(channel.time_s):
        return False
    if quantity is not Quantity.ROTATIONAL_SPEED:
        return True
    return speed and bool(np.any(channel.value[channel.usable] > _MOVING_RPM))


def _draw(axes: Axes, channel: ChannelData, levels: Sequence[Level]) -> list[str]:
    quantity = channel.entry.quantity
    good = channel.usable
    time_s, value = channel.time_s[good], channel.value[good]
    drawn = thinned(time_s, value)
    mark = "o-" if 0 < len(drawn) < 60 else "o"
    axes.plot(time_s[drawn], value[drawn], mark, color=BLUE, markersize=2.4, markeredgewidth=0, linewidth=0.7)
    low, high = _reach(value, channel, levels)
    axes.set_ylim(low, high)
    said = [thinned_words(len(value), len(drawn))]
    said += _draw_over_range(axes, channel, high)
    falling = sorted(levels, key=lambda one: -one.value)
    for each, place in zip(falling, places([one.value for one in falling], high - low), strict=True):
        level(axes, each.value, each.text, limit=each.limit, place=place)
    name = quantity.value.replace("_", " ").replace("ac ", "AC ").replace("dc ", "DC ")
    axes.set_title(f"{name[:1].upper()}{name[1:]}, {unit_words(quantity.unit)}")
    return [word for word in said if word]


def _reach(value: NDArray[np.float64], channel: ChannelData, levels: Sequence[Level]) -> tuple[float, float]:
    """A range that does not blow the last digit up to the height of the panel."""
    ends = [
        *(each.value for each in levels),
        *([float(np.min(value)), float(np.max(value))] if len(value) else []),
    ]
    low, high = (min(ends), max(ends)) if ends else (0.0, 1.0)
    digit = (
        channel.card.resolution if channel.card is not None and channel.card.resolution is not None else 0.0
    )
    least = max(0.04 * max(abs(low), abs(high)), 12.0 * digit, 1e-6)
    if high - low < least:
        middle = 0.5 * (low + high)
        low, high = middle - 0.5 * least, middle + 0.5 * least
    room = 0.12 * (high - low)
    return low - room, high + 1.2 * room


def _draw_over_range(axes: Axes, channel: ChannelData, high: float) -> list[str]:
    over = channel.time_s[channel.quality == Quality.OVERLOAD]
    if not len(over):
        return []
    at = np.full(len(over), high)
    shown = thinned(over, at)
    axes.plot(
        over[shown], at[shown], "^", color=RUST, markersize=4.5, markeredgewidth=0, clip_on=False, zorder=5
    )
    return [f"Triangles at the upper edge: {counted(len(over), 'reading')} over range (open)."]


def _described(channel: ChannelData) -> str:
    quantity, value = channel.entry.quantity, channel.value[channel.usable]
    name, unit = quantity.value.replace("_", " "), unit_words(quantity.unit)
    over = int(np.sum(channel.quality == Quality.OVERLOAD))
    open_words = f", {over} over range" if over else ""
    if not len(value):
        return f"No usable reading of {name}{open_words}."
    return f"{counted(len(value), 'reading')} of {name} from {np.min(value):g} to {np.max(value):g} {unit}{open_words}."
