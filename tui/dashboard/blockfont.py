"""Large characters built of blocks, so that a number can be read from three metres.

One pixel drawing of each character, seven pixels high, serves three sizes:

======  ======================  ===========  ===================================
size    a pixel is              height       use
======  ======================  ===========  ===================================
half    1 column, half a row    4 rows       words and second values
full    2 columns, 1 row        7 rows       the main value
double  4 columns, 2 rows       14 rows      the main value on a large terminal
======  ======================  ===========  ===================================

A terminal's cell is about twice as high as wide, so all three look alike.
"""

from __future__ import annotations

from enum import Enum

from tui.dashboard.blockglyphs import GLYPHS, HEIGHT_PX

__all__ = ["Size", "block_height", "block_text", "block_width", "drawable"]


class Size(Enum):
    """How large a pixel is drawn: columns, then half rows."""

    HALF = (1, 1)
    FULL = (2, 2)
    DOUBLE = (4, 4)


def drawable(text: str) -> bool:
    """Whether every character of the text has a drawing."""
    return all(character in GLYPHS for character in text)


def block_height(size: Size) -> int:
    """Rows that a line of this size takes."""
    return -(-HEIGHT_PX * size.value[1] // 2)


def block_width(text: str, size: Size) -> int:
    """Columns that the text takes, without a gap after its last character."""
    if not text:
        return 0
    pixels = sum(len(GLYPHS[character][0]) + 1 for character in text) - 1
    return pixels * size.value[0]


def block_text(text: str, size: Size, *, ink: str = "█", low: bool = False) -> list[str]:
    """Draw a text.

    Args:
        text: characters that all have a drawing.
        size: how large.
        ink: what a set cell is drawn with in the sizes full and double; in half
            the block characters are always used.
        low: in half, the half row to spare is above and not below: for letters at an
            edge of their own colour.

    Returns:
        ``block_height(size)`` strings, each ``block_width(text, size)`` columns.

    Raises:
        KeyError: a character has no drawing.
    """
    pixel_rows = [
        ".".join(GLYPHS[character][row] for character in text) if text else "" for row in range(HEIGHT_PX)
    ]
    if size is Size.HALF:
        return _half_rows(pixel_rows, low=low)
    columns, half_rows = size.value
    wide = ["".join((ink if pixel == "#" else " ") * columns for pixel in row) for row in pixel_rows]
    return [row for row in wide for _ in range(half_rows // 2)]


def _half_rows(pixel_rows: list[str], *, low: bool) -> list[str]:
    blocks = {("#", "#"): "█", ("#", "."): "▀", (".", "#"): "▄", (".", "."): " "}
    blank = "." * len(pixel_rows[0])
    padded = [blank, *pixel_rows] if low else [*pixel_rows, blank]
    return [
        "".join(blocks[pair] for pair in zip(padded[row], padded[row + 1], strict=True))
        for row in range(0, HEIGHT_PX, 2)
    ]
