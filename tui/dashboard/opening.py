"""Which screen shows a recording: a replay, or a run that goes on and is watched."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.dashboard.run_screen import RunScreen
from tui.session import RunEnd

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["recording_screen"]


def recording_screen(path: Path, *, from_start: bool = False) -> RunScreen:
    """A screen for a recording.

    Args:
        path: the recording.
        from_start: play it; otherwise begin with the whole run and its result.

    Raises:
        RecordingError: there is no such file, or it may not be read.
    """
    from daq.locking import writer_alive
    from daq.model.clock import SystemClock
    from tui.dashboard.replay_screen import ReplayScreen
    from tui.replaying import ReplayFeed

    if writer_alive(path):
        return _watching(path)
    return ReplayScreen(ReplayFeed(path, SystemClock(), at_end=not from_start), path)


def _watching(path: Path) -> RunScreen:
    from tui.dashboard.feed import ThreadFeed
    from tui.followed import followed_file
    from tui.latesource import LateSource
    from tui.watchcontrol import WatchControl

    source = LateSource(path)
    feed = ThreadFeed(followed_file(source), source.path)

    def close() -> RunEnd:
        feed.stop()
        finished = source.finished
        source.close()
        return RunEnd(source.path, finished)

    return RunScreen(feed, WatchControl(source), close=close)
