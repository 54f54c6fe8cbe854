"""Makes 14-byte seven-segment frames from pictures of digits, without the driver's tables.

The layout of the bits is from memory, like the driver's; but it is written
down here a second time, from pictures, so that a slip in either shows.
"""

from __future__ import annotations

__all__ = ["segment_frame"]

_PICTURES = """
 _     _  _     _  _  _  _  _
| |  | _| _||_||_ |_   ||_||_||
|_|  ||_  _|  | _||_|  ||_| _||_
"""
_ORDER = "0123456789L"

_SYMBOL_PLACES = {
    "AC": (1, 3), "DC": (1, 2), "auto": (1, 1), "link": (1, 0),
    "u": (10, 3), "n": (10, 2), "k": (10, 1), "diode": (10, 0),
    "m": (11, 3), "%": (11, 2), "M": (11, 1), "beep": (11, 0),
    "F": (12, 3), "ohm": (12, 2), "REL": (12, 1), "HOLD": (12, 0),
    "A": (13, 3), "V": (13, 2), "Hz": (13, 1), "BAT": (13, 0),
    "c1": (14, 0), "c2": (14, 1), "c4": (14, 2), "c8": (14, 3),
}  # fmt: skip
"""Byte, counted from 1, and which of its four low bits."""


def _picture(character: str) -> tuple[str, str, str]:
    if character == " ":
        return "   ", "   ", "   "
    rows = [row.ljust(40) for row in _PICTURES.splitlines()[1:4]]
    at = 3 * _ORDER.index(character)
    top, middle, bottom = (row[at : at + 3] for row in rows)
    return top, middle, bottom


def segment_frame(display: str, *symbols: str) -> bytes:
    """Draw ``display`` (four characters, with a point and a minus where wanted) and light the symbols."""
    low = [0] * 14
    if display.startswith("-"):
        low[1] |= 8
        display = display[1:]
    place = 0
    for character in display.rjust(4 + display.count(".")):
        if character == ".":
            low[2 * place + 1] |= 8
            continue
        top, middle, bottom = _picture(character)
        a, (f, g, b), (e, d, c) = top[1], tuple(middle), tuple(bottom)
        low[2 * place + 1] |= 4 * (e == "|") + 2 * (f == "|") + (a == "_")
        low[2 * place + 2] |= 8 * (d == "_") + 4 * (c == "|") + 2 * (g == "_") + (b == "|")
        place += 1
    for symbol in symbols:
        number, bit = _SYMBOL_PLACES[symbol]
        low[number - 1] |= 1 << bit
    return bytes((n << 4) | bits for n, bits in enumerate(low, start=1))
