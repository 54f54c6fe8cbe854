"""What a person at the screen can do to the run that is being shown."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

__all__ = ["Control", "Watching"]


class Control(Protocol):
    """The way back from the screen to the capture.

    Attributes:
        path: the recording.
        records: whether leaving the screen ends a run; False where one only looks on.
    """

    path: Path
    records: bool

    def mark(self, text: str) -> None:
        """Write a mark into the recording."""
        ...

    def stop(self) -> None:
        """Ask for the recording to be closed; returns at once and may be called twice."""
        ...

    def trouble(self) -> str:
        """A sentence where the capture has ended without closing its recording, or ""."""
        ...


class Watching:
    """Control of a run that is someone else's, or over: one can only look on."""

    records = False

    def __init__(self, path: Path) -> None:
        self.path = path

    def mark(self, text: str) -> None:
        """Nothing: a looker-on writes no marks."""

    def stop(self) -> None:
        """Nothing: the run goes on."""

    def trouble(self) -> str:
        return ""
