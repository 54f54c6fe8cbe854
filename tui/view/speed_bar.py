"""The bar of the speed guide in columns: where the window is, where the speed, and what stands below."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tui.view.state import SpeedView, Tone

__all__ = ["BarPart", "BarRun", "SpeedBar", "speed_bar"]

BarPart = Literal["outside", "to go", "low edge", "inside", "rated", "high edge"]
"""What a piece of the bar is: beyond the speed and the window; between speed and window; the window's parts."""
BarRun = tuple[BarPart, int, Tone | Literal["dim"]]
"""A piece, its columns, and the role that it is drawn in."""


@dataclass(frozen=True)
class SpeedBar:
    """A bar of some columns."""

    needle: int | None
    """The column of the speed; None where it isn't known."""
    runs: tuple[BarRun, ...]
    labels: str
    """The row below the bar."""


def speed_bar(view: SpeedView, columns: int) -> SpeedBar | None:
    """Lay the bar out; None where there is no window to show."""
    if view.window is None:
        return None
    low, middle, high = (_column(place, columns) for place in (-view.window, 0.0, view.window))
    low, high = min(low, middle - 1), max(high, middle + 1)
    needle = None if view.place is None else _column(view.place, columns)
    at = middle if needle is None else needle
    below, above = min(at, low), max(at, high)
    runs: tuple[BarRun, ...] = (
        ("outside", below, "dim"),
        ("to go", low - below, view.tone),
        ("low edge", 1, "good"),
        ("inside", middle - low - 1, "good"),
        ("rated", 1, "good"),
        ("inside", high - middle - 1, "good"),
        ("high edge", 1, "good"),
        ("to go", above - high, view.tone),
        ("outside", columns - above - 1, "dim"),
    )
    return SpeedBar(needle, tuple(run for run in runs if run[1] > 0), _labels(view, view.window, columns))


def _labels(view: SpeedView, window: float, columns: int) -> str:
    """The window's edges, and where there is room beside them the bar's ends."""
    row = " " * columns
    places = ((view.low_edge, -window), (view.high_edge, window), (view.low, -1.0), (view.high, 1.0))
    for text, place in places:
        start = min(max(_column(place, columns) - len(text) // 2, 0), max(columns - len(text), 0))
        end = start + len(text)
        if not row[max(start - 1, 0) : end + 1].strip():
            row = f"{row[:start]}{text}{row[end:]}"[:columns]
    return row


def _column(place: float, columns: int) -> int:
    """The column of a place from -1 to 1."""
    return round((place + 1) / 2 * (columns - 1))
