"""The one place where strings from files and instruments are made fit to be shown.

A recording, a card or an instrument may hold anything, also sequences that
would move the cursor, rename the window or turn the reading order round.
"""

from __future__ import annotations

import re
import unicodedata

__all__ = ["clean"]

_SEQUENCE = re.compile(
    r"\x1b\[[0-?]*[ -/]*[@-~]"  # control sequence: colours, cursor
    r"|\x1b[\]PX^_][^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)?"  # strings: window title, clipboard
    r"|\x1b[ -/]*[0-~]?"  # any other escape
    r"|\x9b[0-?]*[ -/]*[@-~]"  # the same control sequence in one byte
    r"|[\x90\x98\x9d\x9e\x9f][^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)?"
)
_BAD_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def clean(text: str, limit: int = 200) -> str:
    """Take control and escape sequences out of a string, on one line and not too long.

    Args:
        text: anything.
        limit: greatest length of what comes back; a longer text ends in ``...``.

    Returns:
        Printable characters and single blanks only.
    """
    without = _SEQUENCE.sub(" ", text[: 8 * limit])
    printable = "".join(" " if _unfit(character) else character for character in without)
    one_line = " ".join(printable.split())
    return one_line if len(one_line) <= limit else one_line[: limit - 3].rstrip() + "..."


def _unfit(character: str) -> bool:
    return unicodedata.category(character) in _BAD_CATEGORIES
