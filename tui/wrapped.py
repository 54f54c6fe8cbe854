"""Lines for a terminal, broken between words; what goes to a file or a pipe stays whole."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator

__all__ = ["say", "wrapped"]

_NARROWEST = 30
_WIDEST = 120
_MARKS = ("- ", "! ", "+ ")


def say(lines: Iterable[str]) -> None:
    """Print lines; on a terminal none is longer than it is wide."""
    columns = min(shutil.get_terminal_size().columns, _WIDEST) if sys.stdout.isatty() else 0
    for line in lines:
        for part in wrapped(line, columns):
            print(part)


def wrapped(line: str, columns: int) -> Iterator[str]:
    """The line in parts of at most ``columns`` characters; the further ones stand under the text of the first.

    A width of 0, or one too narrow for words, leaves it whole.
    """
    if columns < _NARROWEST or len(line) <= columns:
        yield line
        return
    text = line.lstrip(" ")
    margin = len(line) - len(text)
    if text.startswith(_MARKS):
        margin += 2
    margin = min(margin, columns // 2)
    yield from textwrap.wrap(
        line,
        columns,
        subsequent_indent=" " * margin,
        break_long_words=False,
        break_on_hyphens=False,
    )
