"""What is wrong with a job file's lines, counted by kind, so that a million junk lines are one sentence."""

from __future__ import annotations

from typing import NamedTuple

import msgspec

from daq.model.counted import counted

__all__ = ["FileTrouble", "Fault", "LineTroubles"]


class Fault(NamedTuple):
    """Why a line can't be taken."""

    kind: str
    """The same for lines that are wrong in the same way; there are few of them, whatever is in the file."""
    text: str
    """What the line does, such as "skips a test without a reason"."""


class FileTrouble(msgspec.Struct, frozen=True):
    """Lines that could not be taken, all for a reason of one kind."""

    line: int
    """The first of them, counted from 1."""
    text: str
    count: int = 1
    """How many there are."""


class LineTroubles:
    """Counts faults by kind, and keeps the first of each.

    Args:
        name: the file's, for the sentences.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        self._found: dict[str, tuple[int, int, str, str]] = {}

    def __contains__(self, kind: object) -> bool:
        """Whether that kind was met."""
        return kind in self._found

    def add(self, line: int, fault: Fault, left: str = "kept, not judged") -> None:
        """Note a fault.

        Args:
            line: counted from 1.
            fault: what is wrong with it.
            left: what becomes of it; the same for all of a kind.
        """
        known, first, text, _ = self._found.get(fault.kind, (0, line, fault.text, left))
        self._found[fault.kind] = (known + 1, first, text, left)

    def more(self, kind: str, count: int) -> None:
        """Note more faults of a kind that was met before; 0 of one that was not."""
        if count:
            known, first, text, left = self._found[kind]
            self._found[kind] = (known + count, first, text, left)

    def found(self) -> tuple[FileTrouble, ...]:
        """One for each kind met, in the order in which they were met first."""
        return tuple(
            FileTrouble(line, self._sentence(count, line, text, left), count)
            for count, line, text, left in self._found.values()
        )

    def _sentence(self, count: int, line: int, text: str, left: str) -> str:
        if count == 1:
            return f"Line {line} of {self._name} {text}. It is {left}."
        return f"{counted(count, 'line')} of {self._name} are {left}, the first in line {line}: it {text}."
