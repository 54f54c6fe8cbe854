"""Digits and capitals five rows high in plain ASCII: for where seven have no room and half blocks can't be drawn."""

from __future__ import annotations

__all__ = ["LOW_GLYPHS", "LOW_LETTERS", "LOW_ROWS", "LOW_SHAPES", "low_drawable", "low_text"]

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

LOW_LETTERS: dict[str, tuple[str, ...]] = {
    "A": (".##.", "#..#", "####", "#..#", "#..#"),
    "B": ("###.", "#..#", "###.", "#..#", "###."),
    "D": ("###.", "#..#", "#..#", "#..#", "###."),
    "E": ("####", "#...", "###.", "#...", "####"),
    "F": ("####", "#...", "###.", "#...", "#..."),
    "I": ("###", ".#.", ".#.", ".#.", "###"),
    "K": ("#..#", "#.#.", "##..", "#.#.", "#..#"),
    "L": ("#...", "#...", "#...", "#...", "####"),
    "M": ("#...#", "##.##", "#.#.#", "#...#", "#...#"),
    "N": ("#..#", "##.#", "#.##", "#..#", "#..#"),
    "O": (".##.", "#..#", "#..#", "#..#", ".##."),
    "P": ("###.", "#..#", "###.", "#...", "#..."),
    "R": ("###.", "#..#", "###.", "#.#.", "#..#"),
    "S": (".###", "#...", ".##.", "...#", "###."),
    "T": ("#####", "..#..", "..#..", "..#..", "..#.."),
    "U": ("#..#", "#..#", "#..#", "#..#", ".##."),
    "W": ("#...#", "#...#", "#.#.#", "##.##", "#...#"),
}
"""Those of the verdicts' words."""

LOW_SHAPES: dict[str, tuple[str, ...]] = {
    "✓": ("....#", "...##", "#..#.", "##.#.", ".##.."),
    "✗": ("#...#", ".#.#.", "..#..", ".#.#.", "#...#"),
    "≈": (".#..#", "#.##.", ".....", ".#..#", "#.##."),
    "…": ("...", "...", "...", "...", "#.#"),
    "–": ("....", "....", "####", "....", "...."),
    "?": ("###.", "...#", ".##.", "....", ".#.."),
}
"""Those of the verdicts' shapes, in ASCII as the letters are."""

_ALL = {**LOW_GLYPHS, **LOW_LETTERS, **LOW_SHAPES}


def low_drawable(text: str) -> bool:
    """Whether every character of the text has a drawing."""
    return all(character in _ALL for character in text)


def low_text(text: str) -> list[str]:
    """Draw a whole number or a word in capitals: :data:`LOW_ROWS` strings, a blank between two characters.

    Raises:
        KeyError: a character has no drawing.
    """
    rows = (" ".join(_ALL[character][row] for character in text) for row in range(LOW_ROWS))
    return [row.replace(".", " ") for row in rows]
