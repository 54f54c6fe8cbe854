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
_MOST_PANELS = 10
"""More would not fit a printed sheet (Letter), and the plot would be torn; a recording may hold a thousand channels."""


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
    """Draw each channel in a panel of its own, at most ten; None where no channel holds a value.

    Where there are more, those that the result rests on are drawn first, then those with a level across
    them, then the others that hold a value, and the caption tells how many are left out.

    Args:
        data: the run.
        name: of the figure.
        title: in words.
        levels: what to draw across the panels.
        speed: whether to draw the speed too, where the engine ran.
    """
    worth = [channel for channel in data.channels if _worth_showing(channel, speed)]
    if not any(bool(np.any(channel.usable)) for channel in worth):
        return None
    shown = _chosen(worth, data, levels)
    heights = [1.25, *(0.75 for _ in shown[1:])]
    with drawing():
        figure, axes = panels(heights, words_beside=bool(levels))
        words: list[str] = []
        for each, channel in zip(axes, shown, strict=True):
            words += _draw(each, channel, [one for one in levels if one.quantity is channel.entry.quantity])
            each.set_title(_title(channel, worth))
        axes[-1].set_xlabel("time, s")
        left_out = _left_out_words(len(worth) - len(shown))
        description = " ".join([*(_described(channel) for channel in shown), left_out]).rstrip()
        svg = inline_svg(figure, name=name, title=title, description=description)
    return Figure(name, title, " ".join(dict.fromkeys([*words, *filter(None, [left_out])])), description, svg)


def _worth_showing(channel: ChannelData, speed: bool) -> bool:
    quantity = channel.entry.quantity
    if quantity in {Quantity.DEVICE_TIME, Quantity.REVOLUTIONS} or not len(channel.time_s):
        return False
    if quantity is not Quantity.ROTATIONAL_SPEED:
        return True
    return speed and bool(np.any(channel.value[channel.usable] > _MOVING_RPM))


def _chosen(worth: Sequence[ChannelData], data: RunData, levels: Sequence[Level]) -> list[ChannelData]:
    """Those that are drawn, in the recording's order."""
    if len(worth) <= _MOST_PANELS:
        return list(worth)
    first = [data.volts, data.speed, *(data.first(one.quantity) for one in levels)]
    of_result = {id(channel) for channel in first}
    ranked = sorted(worth, key=lambda each: (id(each) not in of_result, not bool(np.any(each.usable))))
    kept = {id(channel) for channel in ranked[:_MOST_PANELS]}
    return [channel for channel in worth if id(channel) in kept]


def _left_out_words(count: int) -> str:
    if not count:
        return ""
    where = "in the recording and in the CSV that export makes of it"
    one, more = "further channel is not drawn; it is", "further channels are not drawn; they are"
    return f"{counted(count, one, more)} {where}."


def _draw(axes: Axes, channel: ChannelData, levels: Sequence[Level]) -> list[str]:
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
    return [word for word in said if word]


def _title(channel: ChannelData, worth: Sequence[ChannelData]) -> str:
    """The quantity, and which of its channels this is where there are several."""
    quantity = channel.entry.quantity
    name = quantity.value.replace("_", " ").replace("ac ", "AC ").replace("dc ", "DC ")
    title = f"{name[:1].upper()}{name[1:]}, {unit_words(quantity.unit)}"
    alike = sum(other.entry.quantity is quantity for other in worth)
    return title if alike == 1 else f"{title} (channel {channel.entry.channel})"


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
