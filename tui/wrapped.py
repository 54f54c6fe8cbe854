"""Lines for a terminal, broken between words, no number parted from its unit; for a file or a pipe they stay whole."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator
from typing import TextIO

from tui.view.wrapping import BOUND, bound

__all__ = ["say", "say_one", "wrapped"]

_NARROWEST = 30
_WIDEST = 120
_MARKS = ("- ", "! ", "+ ")
_WHOLE = "Recording: "
"""A line with a path is left to the terminal, which lets it be copied in one piece."""


def say(lines: Iterable[str], stream: TextIO | None = None) -> None:
    """Print lines, on standard output unless told otherwise; on a terminal none is longer than it is wide."""
    stream = sys.stdout if stream is None else stream
    columns = min(shutil.get_terminal_size().columns, _WIDEST) if stream.isatty() else 0
    for line in lines:
        for part in wrapped(line, columns):
            print(part, file=stream)


def say_one(line: str) -> None:
    """Print a line at once, such as one that is told while a run goes on."""
    say([line])
    sys.stdout.flush()


def wrapped(line: str, columns: int) -> Iterator[str]:
    """The line in parts of at most ``columns`` characters; the further ones stand under the text of the first.

    A width of 0, or one too narrow for words, leaves it whole.
    """
    if columns < _NARROWEST or len(line) <= columns or line.startswith(_WHOLE):
        yield line
        return
    text = line.lstrip(" ")
    margin = len(line) - len(text)
    if text.startswith(_MARKS):
        margin += 2
    margin = min(margin, columns // 2)
    for part in textwrap.wrap(
        bound(line),
        columns,
        subsequent_indent=" " * margin,
        break_long_words=False,
        break_on_hyphens=False,
    ):
        yield part.replace(BOUND, " ")
