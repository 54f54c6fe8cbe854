"""What a picture needs that stands still: a feed, a run in progress, results that are there at once."""

from __future__ import annotations

from pathlib import Path

from daq.run.snapshot import Snapshot
from tui.control import Watching
from tui.shelf.summary import Summary, summarise

__all__ = ["AsRecorded", "StillFeed", "SummariesAtOnce"]


class StillFeed:
    """A feed that stands still."""

    def __init__(self, snapshot: Snapshot) -> None:
        self._snapshot = snapshot

    def start(self) -> None:
        """Nothing to start."""

    def latest(self) -> Snapshot:
        return self._snapshot

    def notice(self) -> str:
        return ""

    def stop(self) -> None:
        """Nothing to stop."""


class AsRecorded(Watching):
    """A control that looks like that of a run in progress."""

    records = True


class SummariesAtOnce:
    """Works results out when they are asked for, in this process."""

    def __init__(self) -> None:
        self._done: list[Summary] = []

    def want(self, path: Path) -> None:
        self._done.append(summarise(path))

    def take(self) -> list[Summary]:
        done, self._done = self._done, []
        return done

    def busy(self) -> tuple[int, str, float]:
        return 0, "", 0.0

    def close(self) -> None:
        """Nothing to end."""
