"""Text in rows of a width, with every number kept together with its unit."""

from __future__ import annotations

import re

__all__ = ["BOUND", "bound", "shorten", "wrap"]

_UNITS = r"(?:V|mV|A|Ah|W|rpm|ms|s|min|h|%|Hz|Ω|ohm|°C|k|rows?|readings?|bytes?)"
_NUMBER_UNIT = re.compile(rf"(?<=\d) (?={_UNITS}\b|%|°C|Ω)")
_PLUS_MINUS = re.compile(r" (?=± )|(?<=±) ")
BOUND = "\u00a0"
"""The blank at which no line is broken."""


def bound(text: str) -> str:
    """The text with unbreakable blanks between numbers and units, and around "±"."""
    return _PLUS_MINUS.sub(BOUND, _NUMBER_UNIT.sub(BOUND, text))


def wrap(text: str, width: int) -> list[str]:
    """Rows of at most ``width`` characters; a word longer than that is cut into pieces."""
    width = max(width, 1)
    rows: list[str] = []
    for word in bound(text).split(" "):
        if rows and len(rows[-1]) + 1 + len(word) <= width:
            rows[-1] += f" {word}"
            continue
        rows += [word[at : at + width] for at in range(0, max(len(word), 1), width)]
    return [row.replace(BOUND, " ") for row in rows]


def shorten(text: str, width: int) -> str:
    """At most ``width`` characters; where words are left out it ends in "...", and no number loses its unit."""
    if len(text) <= width:
        return text
    if width <= 3:
        return text[: max(width, 0)]
    if len(bound(text).split(" ", 1)[0]) > width - 4:
        return f"{text[: width - 3]}..."
    return f"{wrap(text, width - 4)[0]} ..."
