"""What is wrong with a recording, counted by kind, so that a million faults are a few sentences."""

from __future__ import annotations

from enum import Enum

__all__ = ["Trouble", "Troubles", "counted"]


class Trouble(Enum):
    """A kind of fault; ``value`` is its sentence, for one or for many."""

    BAD_LINE = "{n} could not be read and {is_are} left out, the first in line {line}: {detail}."
    UNDECLARED = (
        "{n} {is_are} left out, the first in line {line}: channel {detail} is not declared before it."
    )
    BACKWARDS = "{n} {is_are} left out, the first in line {line}: channel {detail} runs back in time."
    NO_VALUE = "{n} without a value {is_are} marked good, the first in line {line}; taken as not a number."
    IMPLAUSIBLE = "{n} can't be, the first in line {line}: {detail}; kept in the file, not used."
    BAD_ENTRY = "{n} {is_are} left out, the first in line {line}: {detail}."
    BAD_MACHINE = "The machine card in line {line} can't be used: {detail}."
    AFTER_CLOSE = "{n} after the closing line, from line {line} on, {is_are} left out."
    CHANGED = "The recording was changed after it was closed: its digest does not match."
    MISCOUNT = "The closing line (line {line}) counts {detail}."


_NOUNS = {
    Trouble.BAD_LINE: "line",
    Trouble.BAD_ENTRY: "entry",
    Trouble.AFTER_CLOSE: "line",
}


class Troubles:
    """Counts of faults, and where each kind was first met."""

    def __init__(self) -> None:
        self._found: dict[Trouble, tuple[int, int, str]] = {}

    def add(self, trouble: Trouble, line: int, detail: str = "", count: int = 1) -> None:
        """Note a fault.

        Args:
            trouble: its kind.
            line: line number in the file, from 1, of the first of them.
            detail: what the sentence says of the first.
            count: how many there are.
        """
        if count < 1:
            return
        known, first_line, first_detail = self._found.get(trouble, (0, line, detail))
        self._found[trouble] = (known + count, first_line, first_detail)

    @property
    def all_there(self) -> bool:
        """Whether nothing is missing or changed: a reading that can't be is in the file as it came."""
        return self._found.keys() <= {Trouble.IMPLAUSIBLE}

    def sentences(self) -> list[str]:
        """One sentence for each kind met, in the order in which they were met first."""
        return [
            trouble.value.format(
                n=counted(count, _NOUNS.get(trouble, "reading")),
                is_are="is" if count == 1 else "are",
                line=line,
                detail=detail,
            )
            for trouble, (count, line, detail) in self._found.items()
        ]


def counted(count: int, noun: str) -> str:
    """A count with its noun: "1 byte", "3 bytes", "2 entries"."""
    plural = noun[:-1] + "ies" if noun.endswith("y") else noun + "s"
    return f"{count} {noun if count == 1 else plural}"
