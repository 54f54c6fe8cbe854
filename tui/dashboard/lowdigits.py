"""Digits five rows high in plain ASCII, where there is no room for seven and half blocks can't be drawn."""

from __future__ import annotations

__all__ = ["LOW_GLYPHS", "LOW_ROWS", "low_text"]

LOW_ROWS = 5

LOW_GLYPHS: dict[str, tuple[str, ...]] = {
    "0": (".##.", "#..#", "#..#", "#..#", ".##."),
    "1": ("..#.", ".##.", "..#.", "..#.", ".###"),
    "2": ("###.", "...#", ".##.", "#...", "####"),
    "3": ("###.", "...#", ".##.", "...#", "###."),
    "4": ("#..#", "#..#", "####", "...#", "...#"),
    "5": ("####", "#...", "###.", "...#", "###."),
    "6": (".##.", "#...", "###.", "#..#", ".##."),
    "7": ("####", "...#", "..#.", ".#..", ".#.."),
    "8": (".##.", "#..#", ".##.", "#..#", ".##."),
    "9": (".##.", "#..#", ".###", "...#", ".##."),
    "-": ("....", "....", "####", "....", "...."),
    " ": ("....", "....", "....", "....", "...."),
}
"""Four columns each, a column a pixel, as wide as the half blocks of :mod:`tui.dashboard.blockfont`."""


def low_text(text: str) -> list[str]:
    """Draw a whole number: :data:`LOW_ROWS` strings, a blank between two characters.

    Raises:
        KeyError: a character has no drawing.
    """
    rows = (" ".join(LOW_GLYPHS[character][row] for character in text) for row in range(LOW_ROWS))
    return [row.replace(".", " ") for row in rows]
