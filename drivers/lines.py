"""Bytes into lines: pure, bounded, for every protocol that ends its messages with a line end."""

from __future__ import annotations

import re
from typing import NamedTuple

__all__ = ["LineSplitter", "RawLine"]

_LINE_END = re.compile(rb"[\r\n]+")


class RawLine(NamedTuple):
    """What stood between two line ends."""

    data: bytes
    whole: bool
    """False: it was longer than the limit, and this is its beginning."""


class LineSplitter:
    """Cuts a stream at CR, LF or both; empty lines are left out.

    A line longer than ``max_line`` bytes is given once, cut and marked, and
    skipped up to its end; no more than ``max_line`` bytes are ever held.
    """

    def __init__(self, max_line: int) -> None:
        self.max_line = max_line
        self._held = b""
        self._skipping = False

    def feed(self, data: bytes) -> list[RawLine]:
        """Take in bytes and give the lines they complete."""
        *ended, rest = _LINE_END.split(self._held + data)
        self._held = b""
        lines: list[RawLine] = []
        for line in ended:
            if self._skipping:
                self._skipping = False
            elif line:
                whole = len(line) <= self.max_line
                lines.append(RawLine(line[: self.max_line], whole))
        if self._skipping:
            return lines
        if len(rest) > self.max_line:
            lines.append(RawLine(rest[: self.max_line], False))
            self._skipping = True
        else:
            self._held = rest
        return lines

    def resync(self) -> None:
        """Drop what is held and skip up to the next line end: the stream goes on in mid-line."""
        self._held = b""
        self._skipping = True

    def flush(self) -> bytes:
        """Give what an unfinished line left, and start afresh at a line's beginning."""
        held, self._held, self._skipping = self._held, b"", False
        return held
