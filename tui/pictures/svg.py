"""A terminal's cells as an SVG that needs no font for its blocks, lines and dots.

Braille, block and box characters are drawn as shapes, because a browser's
font may lack them or give them another width; letters are set by the cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

from rich.color import Color
from rich.style import Style
from textual.strip import Strip

__all__ = ["strips_to_svg"]

_W, _H = 9.0, 18.0
_MARGIN = 12.0
_DOT = 1.9
_DOTS = ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3))
"""Column and row of the dot of each bit of a braille character (The Unicode Standard, Braille Patterns)."""
_BLOCKS = {"█": (0.0, 1.0), "▀": (0.0, 0.5), "▄": (0.5, 1.0)}
_BOXES = {
    # character: (left half, right half, up, down) with the thickness of each arm
    "─": (1, 1, 0, 0),
    "━": (2, 2, 0, 0),
    "│": (0, 0, 1, 1),
    "┤": (1, 0, 1, 1),
    "┣": (0, 2, 2, 2),
    "┫": (2, 0, 2, 2),
    "┿": (2, 2, 1, 1),
    "╭": (0, 1, 0, 1),
    "╮": (1, 0, 0, 1),
    "╰": (0, 1, 1, 0),
    "╯": (1, 0, 1, 0),
}

Box = tuple[float, float, float, float]


def strips_to_svg(strips: Sequence[Strip], *, background: str, foreground: str, title: str) -> str:
    """Draw a screen.

    Args:
        strips: its rows.
        background: colour behind it, as ``#rrggbb``.
        foreground: colour of text that has none of its own.
        title: what it shows, for who can't see it.
    """
    columns = max((strip.cell_length for strip in strips), default=0)
    width, height = columns * _W + 2 * _MARGIN, len(strips) * _H + 2 * _MARGIN
    picture = _Picture(background, foreground)
    for row, strip in enumerate(strips):
        picture.row(row, strip)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" '
        f'width="{width:g}" height="{height:g}">\n<title>{escape(title)}</title>\n'
        f'<rect width="100%" height="100%" rx="8" fill="{background}"/>\n'
        f'<g transform="translate({_MARGIN:g} {_MARGIN:g})" font-family="ui-monospace, Menlo, Consolas, '
        f'DejaVu Sans Mono, monospace" font-size="15">\n' + "\n".join(picture.elements()) + "\n</g>\n</svg>\n"
    )


class _Picture:
    """Collects what is drawn, by colour."""

    def __init__(self, background: str, foreground: str) -> None:
        self._background, self._foreground = background, foreground
        self._behind: dict[str, list[Box]] = {}
        self._shapes: dict[str, list[Box]] = {}
        self._texts: list[str] = []

    def row(self, row: int, strip: Strip) -> None:
        """Take in a row of cells."""
        x = 0
        for segment in strip:
            style = segment.style or Style()
            front, back = self._colours(style)
            if back != self._background:
                self._behind.setdefault(back, []).append((x * _W, row * _H, len(segment.text) * _W, _H))
            self._run(x, row, segment.text, front, bold=bool(style.bold))
            x += len(segment.text)

    def elements(self) -> list[str]:
        """All that was taken in, as SVG elements: backgrounds, shapes, then text."""
        paths = [*self._behind.items(), *self._shapes.items()]
        return [*(f'<path fill="{colour}" d="{_path(boxes)}"/>' for colour, boxes in paths), *self._texts]

    def _colours(self, style: Style) -> tuple[str, str]:
        front = _hex(style.color) or self._foreground
        back = _hex(style.bgcolor) or self._background
        return (back, front) if style.reverse else (front, back)

    def _run(self, x: int, row: int, text: str, colour: str, *, bold: bool) -> None:
        word, start = "", x
        for at, character in enumerate(text + "\0", start=x):
            shape = None if character in " \0" else _shape(character)
            if character not in "\0" and shape is None and (character != " " or word):
                start = start if word else at
                word += character
                continue
            self._text(start, row, word, colour, bold=bold)
            word = ""
            for left, top, width, height in shape or ():
                box = (at * _W + left, row * _H + top, width, height)
                self._shapes.setdefault(colour, []).append(box)

    def _text(self, x: int, row: int, text: str, colour: str, *, bold: bool) -> None:
        """Set the phrases of a text; where two blanks or more stand, a browser would draw one."""
        weight = ' font-weight="bold"' if bold else ""
        for phrase in re.finditer(r"\S+(?: \S+)*", text):
            left, columns = (x + phrase.start()) * _W, len(phrase.group())
            self._texts.append(
                f'<text x="{left:g}" y="{row * _H + 13.5:g}" textLength="{columns * _W:g}" '
                f'lengthAdjust="spacingAndGlyphs" fill="{colour}"{weight}>{escape(phrase.group())}</text>'
            )


def _hex(colour: Color | None) -> str | None:
    if colour is None or colour.is_default:
        return None
    return colour.get_truecolor().hex


def _shape(character: str) -> list[Box] | None:
    """The boxes of a character within its cell; None for one that is set as text."""
    if "\u2800" <= character <= "\u28ff":
        return list(_braille(ord(character) - 0x2800))
    if character in _BLOCKS:
        top, bottom = _BLOCKS[character]
        return [(0.0, top * _H, _W, (bottom - top) * _H)]
    if character in _BOXES:
        return list(_box(*_BOXES[character]))
    return None


def _braille(bits: int) -> Iterable[Box]:
    for bit, (column, row) in enumerate(_DOTS):
        if bits >> bit & 1:
            yield (column + 0.5) * _W / 2 - _DOT / 2, (row + 0.5) * _H / 4 - _DOT / 2, _DOT, _DOT


def _box(left: int, right: int, up: int, down: int) -> Iterable[Box]:
    middle_x, middle_y = _W / 2, _H / 2
    for thick, start, end in ((left, 0.0, middle_x), (right, middle_x, _W)):
        if thick:
            yield start, middle_y - thick / 2, end - start, float(thick)
    for thick, start, end in ((up, 0.0, middle_y), (down, middle_y, _H)):
        if thick:
            yield middle_x - thick / 2, start, float(thick), end - start


def _path(boxes: Iterable[Box]) -> str:
    return "".join(f"M{x:g} {y:g}h{width:g}v{height:g}h{-width:g}z" for x, y, width, height in boxes)
