"""A run that is followed, with the session time that passes even while nothing comes."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from daq.errors import RecordingError

if TYPE_CHECKING:
    from daq.model.clock import Clock
    from daq.recording.follow import FileFollower, Replay
    from daq.run.live import LiveRun
    from daq.run.snapshot import Snapshot
    from tui.latesource import LateSource
    from tui.ownsource import OwnSource

    RunSource = FileFollower | LateSource | OwnSource | Replay

__all__ = ["Followed", "followed_file", "followed_replay"]


class SessionTime(Protocol):
    """Session time: that of the recording, going on."""

    def now_s(self) -> float | None:
        """Now; None where only the source knows it."""
        ...

    def saw(self, t_s: float) -> None:
        """The source has got as far as this."""
        ...


class Followed:
    """Gives snapshots of a run; the last one, once the run has ended, is that of the whole recording.

    Attributes:
        notice: what it is busy with, or "".
        on_progress: told how much of the work on the whole recording is done, from 0 to 1.
    """

    def __init__(
        self,
        source: RunSource,
        time: SessionTime,
        go_on: Callable[[], bool] = lambda: False,
        clock: Clock | None = None,
    ) -> None:
        """Follow a run.

        Args:
            source: of the run's lines; what takes them in is made at the first update, so that a
                screen need not wait for it.
            time: knows the session time.
            go_on: asked before each update; True where the source reads another file from its start now.
            clock: see :class:`daq.run.live.LiveRun`.
        """
        self.notice = ""
        self.on_progress: Callable[[float], None] = lambda _: None
        self._source = source
        self._live: LiveRun | None = None
        self._time = time
        self._go_on = go_on
        self._clock = clock
        self._last: Snapshot | None = None
        self._size_bytes = -1

    def grown(self) -> bool:
        """Whether there is more in the recording than at the last update."""
        return self._size_now() != self._size_bytes

    def _size_now(self) -> int:
        try:
            return self._source.path.stat().st_size
        except OSError:
            return self._size_bytes

    def update(self) -> Snapshot:
        """Follow the source up to now.

        Raises:
            RecordingError: the recording can't be followed any further.
        """
        if self._last is not None and self._last.finished:
            return self._last
        if self._go_on():
            self._live = None
        self._size_bytes = self._size_now()
        snapshot = self._run().update(self._time.now_s())
        self._time.saw(snapshot.t_s)
        self._last = self._whole() if snapshot.finished else snapshot
        return self._last

    def _run(self) -> LiveRun:
        if self._live is None:
            from daq.run.live import LiveRun

            self._live = LiveRun(self._source, clock=self._clock)
        return self._live

    def _whole(self) -> Snapshot:
        from daq.run.recorded import work_out

        self.notice = "Working out the whole run ..."
        recorded = work_out(self._source.path, self.on_progress)
        known = self._run().session
        if known is not None and recorded.recording.session != known:
            raise RecordingError(
                f"{self._source.path.name} is another run's recording now; nothing is judged by it."
            )
        whole = self._run().whole(recorded.analysis())
        self.notice = ""
        return whole


class _PassingTime:
    """Session time by this computer's clock, set by the newest time that was seen in the recording.

    What is newest in the file is at most as late as the capture's present, so
    the offset between the two clocks only ever grows towards the true one.
    """

    def __init__(self, *, from_now: bool) -> None:
        """Start; ``from_now``: the session starts about now."""
        self._offset_s = -time.monotonic() if from_now else None

    def now_s(self) -> float | None:
        return None if self._offset_s is None else time.monotonic() + self._offset_s

    def saw(self, t_s: float) -> None:
        if t_s > 0:
            seen_s = t_s - time.monotonic()
            self._offset_s = seen_s if self._offset_s is None else max(self._offset_s, seen_s)


class _ReplayTime:
    """Session time as the replay has it."""

    def __init__(self, source: Replay) -> None:
        self._source = source

    def now_s(self) -> float:
        return self._source.position_ns * 1e-9

    def saw(self, t_s: float) -> None:
        """Nothing: the replay knows."""


def followed_file(source: FileFollower | LateSource | OwnSource, *, just_started: bool = False) -> Followed:
    """Follow a recording that is being written, or was.

    Args:
        source: the recording.
        just_started: its session started a moment ago; time then passes before the first reading too.
    """
    from daq.model.clock import SystemClock

    go_on = getattr(source, "go_on", None)  # a plain follower knows of one file alone
    return Followed(source, _PassingTime(from_now=just_started), go_on or (lambda: False), SystemClock())


def followed_replay(source: Replay) -> Followed:
    """Follow a replay: its time is the session's."""
    return Followed(source, _ReplayTime(source))
