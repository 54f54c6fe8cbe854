"""A recording that goes on in another file: its sentence, and how that is known again."""

from __future__ import annotations

from pathlib import Path

import msgspec

__all__ = ["MOVED_ON", "Moved", "moved_from", "moved_once"]

_MOVED = " was changed or replaced by something else during the run"
MOVED_ON = f"{_MOVED}; the recording goes on"
"""Stands behind the old file's name in the event of the new file."""


class Moved(msgspec.Struct, frozen=True):
    """A recording goes on in another file, because something else has taken or changed its own."""

    was: Path
    path: Path
    lost_readings: int = 0
    """How many stood in the old file alone."""
    from_ns: int = 0
    """Time of the first reading where not all are there."""
    whole: bool = True

    @property
    def back(self) -> bool:
        """It has its own name again, and nothing is missing."""
        return self.path == self.was and self.whole

    @property
    def text(self) -> str:
        """The sentence."""
        if self.back:
            return f"{self.path.name} was removed during the run and has been put back, whole."
        where = self.path.name if self.path.parent == self.was.parent else str(self.path)
        told = f"{self.was.name}{MOVED_ON} in {where}"
        if self.whole:
            return f"{told}, whole."
        return (
            f"{told}, which begins at {self.from_ns / 1e9:.1f} s; the {self.lost_readings} readings before that "
            f"stood in {self.was.name} alone."
        )


def moved_from(text: str) -> str | None:
    """The file that a recording has left, by an event's text; None where the event tells of other things."""
    name, found, _ = text.partition(MOVED_ON)
    return name if found else None


def moved_once(text: str) -> str:
    """The sentence of such an event, told of a run that is over; any other text as it is."""
    return text.replace(MOVED_ON, f"{_MOVED}; the recording went on", 1)
