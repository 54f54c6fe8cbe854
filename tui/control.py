"""What a person at the screen can do to the run that is being shown."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple, Protocol

__all__ = ["BY_HAND", "Answer", "Control", "Watching"]

BY_HAND = "stopped by hand or by a signal"


class Answer(NamedTuple):
    """What the capture made of a typed line."""

    text: str
    understood: bool


class Control(Protocol):
    """The way back from the screen to the capture.

    Attributes:
        records: whether leaving the screen ends a run; False where one only looks on.
        keyed: whether an instrument takes typed readings.
    """

    records: bool
    keyed: bool

    @property
    def path(self) -> Path:
        """The recording, under the name that it has now."""
        ...

    def mark(self, text: str) -> None:
        """Write a mark into the recording."""
        ...

    def typed(self, line: str) -> None:
        """Hand a typed line to the keyed-in instrument."""
        ...

    def stop(self, reason: str = BY_HAND) -> None:
        """Ask for the recording to be closed, for that reason; returns at once, and the first call counts."""
        ...

    def trouble(self) -> str:
        """A sentence where the capture has ended without closing its recording, or ""."""
        ...

    def answers(self) -> list[Answer]:
        """What has been understood of typed lines since the last call; never waits."""
        ...

    def warning(self) -> str:
        """A sentence while the capture can't write and holds readings in memory, or ""."""
        ...


class Watching:
    """Control of a run that is someone else's, or over: one can only look on."""

    records = False
    keyed = False

    def __init__(self, path: Path) -> None:
        self._path = path

    @property
    def path(self) -> Path:
        """The recording, under the name that it has now."""
        return self._path

    def mark(self, text: str) -> None:
        """Nothing: a looker-on writes no marks."""

    def typed(self, line: str) -> None:
        """Nothing: a looker-on types no readings."""

    def stop(self, reason: str = BY_HAND) -> None:
        """Nothing: the run goes on."""

    def trouble(self) -> str:
        return ""

    def answers(self) -> list[Answer]:
        """Nothing: a looker-on types no readings."""
        return []

    def warning(self) -> str:
        return ""
