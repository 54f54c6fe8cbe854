"""The scrub line of a replay: how far it is, and where the speed was in the window."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from tui.view.numbers import clock

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from daq.run.channels import RunData
    from daq.run.rows import AlignedRows

__all__ = ["RATES", "Kind", "ScrubView", "SpeedMap", "cell_of", "cells", "scrub_view", "speed_map", "time_at"]

RATES = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0)
"""The rates that the keys go through."""
_HOLE_S = 3.0
"""Without a speed for so long, the speed counts as not known."""

Kind = Literal["in", "out", "none"]
"""The speed in the window, outside it, not known."""


@dataclass(frozen=True, eq=False)
class SpeedMap:
    """At which times the speed was known, and whether it was in the window; arrays of shape (n,)."""

    length_s: float
    time_s: NDArray[np.float64]
    inside: NDArray[np.bool_]
    has_window: bool
    """There is a machine card with a window."""


@dataclass(frozen=True)
class ScrubView:
    """What the scrub line shows."""

    state: str
    """Such as "playing 2 x"."""
    position: str
    length: str
    share: float
    """How far it is, from 0 to 1."""
    speed: SpeedMap | None


def speed_map(data: RunData, rows: AlignedRows, length_s: float) -> SpeedMap:
    """Find out where the speed was in the window.

    Args:
        data: the run's channels.
        rows: the run's aligned rows, used where there is no channel of speed readings.
        length_s: of the recording.
    """
    import numpy as np

    from daq.model.quantity import Quantity

    machine = data.machine
    if data.speed is not None and data.speed.entry.quantity is Quantity.ROTATIONAL_SPEED:
        time_s, speed_rpm = data.speed.time_s, np.where(data.speed.usable, data.speed.value, np.nan)
    else:
        time_s, speed_rpm = rows.time_s, rows.speed_rpm
    known = np.isfinite(speed_rpm)
    time_s, speed_rpm = time_s[known], speed_rpm[known]
    if machine is None:
        return SpeedMap(length_s, time_s, np.zeros(len(time_s), dtype=np.bool_), has_window=False)
    inside = np.abs(speed_rpm - machine.rated_speed_rpm) <= machine.speed_tolerance_rpm
    return SpeedMap(length_s, time_s, inside, has_window=True)


def cells(speed: SpeedMap | None, columns: int) -> list[Kind]:
    """What each column of the line shows: in the window where the speed ever was within that column's time."""
    if speed is None or speed.length_s <= 0:
        return ["none"] * columns
    import numpy as np

    edges = np.linspace(0.0, speed.length_s, columns + 1)
    first = np.searchsorted(speed.time_s, edges[:-1])
    last = np.searchsorted(speed.time_s, edges[1:], side="right")
    inside = np.concatenate(([0], np.cumsum(speed.inside)))
    found: list[Kind] = []
    for column in range(columns):
        a, b = int(first[column]), int(last[column])
        if b > a:
            found.append("in" if inside[b] > inside[a] else "out")
            continue
        # A column that is shorter than the time between two readings takes after the reading before it.
        held = a > 0 and edges[column] - speed.time_s[a - 1] <= _HOLE_S
        found.append(("in" if speed.inside[a - 1] else "out") if held else "none")
    return found


def cell_of(share: float, columns: int) -> int:
    """The column of a place on the line."""
    return min(max(round(share * (columns - 1)), 0), columns - 1)


def time_at(column: int, columns: int, length_s: float) -> float:
    """The time of a column of the line."""
    return length_s * min(max(column / max(columns - 1, 1), 0.0), 1.0)


def scrub_view(
    position_s: float,
    length_s: float | None,
    *,
    paused: bool,
    ended: bool,
    cut_off: bool = False,
    rate: float,
    speed: SpeedMap | None,
) -> ScrubView:
    """Put a replay's place into words."""
    speed_words = "as fast as it goes" if rate == 0 else f"{rate:g} x"
    if ended:
        state = "cut off here" if cut_off else "at the end"
    elif paused:
        state = "paused"
    else:
        state = f"playing {speed_words}"
    known = length_s is not None and length_s > 0
    return ScrubView(
        state=state,
        position=clock(position_s),
        length=clock(length_s) if length_s is not None and known else "",
        share=min(position_s / length_s, 1.0) if length_s is not None and known else 0.0,
        speed=speed,
    )
