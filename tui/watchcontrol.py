"""Looking on at a run that another process records."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.control import Watching

if TYPE_CHECKING:
    from pathlib import Path

    from daq.recording.follow import FileFollower
    from tui.latesource import LateSource

__all__ = ["WatchControl"]


class WatchControl(Watching):
    """Tells where nobody writes the recording any more."""

    def __init__(self, source: FileFollower | LateSource) -> None:
        super().__init__(source.path)
        self._source = source

    @property
    def path(self) -> Path:
        """The recording, under the name that it has now."""
        return self._source.path

    def trouble(self) -> str:
        """That the recording was left open by a capture that has gone."""
        if self._source.finished or self._source.being_written() is not False:
            return ""
        return "Nobody writes this recording any more, and it was never closed."
