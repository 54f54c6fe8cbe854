"""Finds what a person sees in block letters on a screen's rows."""

from __future__ import annotations

from collections.abc import Sequence

from tui.dashboard.blockfont import Size, block_text

__all__ = ["stands_in_blocks"]


def stands_in_blocks(text: str, rows: Sequence[str]) -> bool:
    """Whether a drawing of the text stands somewhere in the rows, one piece of it below the other."""
    return any(_stands(drawn, rows) for drawn in _drawings(text))


def _drawings(text: str) -> list[list[str]]:
    """Every way in which a text can stand in blocks."""
    found = [block_text(text, size) for size in (Size.DOUBLE, Size.FULL, Size.HALF)]
    return [*found, block_text(text, Size.HALF, low=True)]


def _stands(drawn: list[str], rows: Sequence[str]) -> bool:
    wide, high = len(drawn[0]), len(drawn)
    for top in range(len(rows) - high + 1):
        columns = range(len(rows[top]) - wide + 1)
        if any(all(rows[top + n][x : x + wide] == drawn[n] for n in range(high)) for x in columns):
            return True
    return False
