"""Tells, once each, what happens to a recording that a person must see."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot
    from tui.dashboard.run_screen import RunScreen

__all__ = ["Happened"]


class Happened:
    """Remembers what was told: a recording that goes on in another file is read anew, with the same events."""

    def __init__(self, screen: RunScreen) -> None:
        """Nothing has happened yet."""
        self._screen = screen
        self._said: set[str] = set()
        self._looked_at: Snapshot | None = None

    def look(self, snapshot: Snapshot) -> None:
        """Tell what is new; in a run of ours with the bell."""
        if snapshot is self._looked_at or not snapshot.events:
            return
        from tui.view.happened import TOLD_FOR_S, to_be_seen

        self._looked_at = snapshot
        for sentence in to_be_seen(snapshot.events):
            if sentence in self._said:
                continue
            self._said.add(sentence)
            self._screen.dashboard.tell(sentence, severity="warning", timeout_s=TOLD_FOR_S)
            if self._screen.going_on:
                self._screen.app.bell()
