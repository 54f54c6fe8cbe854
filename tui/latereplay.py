"""A replay that is opened when its first lines are asked for, so that a screen need not wait for that."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.model.clock import Clock
    from daq.recording.batch import Batch
    from daq.recording.replay import Replay

__all__ = ["LateReplay"]


class LateReplay:
    """Plays a recording back; opening it takes imports that would double the time to the first frame.

    Until then it stands at its beginning. Where it is may be asked in any thread, all else in one.

    Attributes:
        path: the recording.
    """

    def __init__(self, path: Path, clock: Clock, rate: float) -> None:
        """Remember the recording; arguments as of :class:`daq.recording.replay.Replay`.

        Raises:
            RecordingError: there is no such file.
        """
        self.path = path
        self._clock = clock
        self._rate = rate
        self._source: Replay | None = None
        if not path.is_file():
            self._opened()

    @property
    def finished(self) -> bool:
        """The whole recording was given."""
        return self._source is not None and self._source.finished

    @property
    def problems(self) -> list[str]:
        """What was wrong with the part read so far."""
        return [] if self._source is None else self._source.problems

    @property
    def paused(self) -> bool:
        """Whether its time stands still."""
        return self._source is not None and self._source.paused

    @property
    def rate(self) -> float:
        """Seconds of the recording in one second of the clock; 0 for as fast as it goes."""
        return self._rate if self._source is None else self._source.rate

    @rate.setter
    def rate(self, rate: float) -> None:
        self._opened().rate = rate

    @property
    def position_ns(self) -> int:
        """The recording's time now, in nanoseconds since its start."""
        return 0 if self._source is None else self._source.position_ns

    def pause(self) -> None:
        """Let its time stand still."""
        self._opened().pause()

    def resume(self) -> None:
        """Let its time run on."""
        self._opened().resume()

    def seek(self, t_ns: int) -> bool:
        """Go to a time; True where that was backwards, and the lines come anew."""
        return self._opened().seek(t_ns)

    def poll(self) -> Batch:
        """The lines whose time has come.

        Raises:
            RecordingError: it may not be read, is no recording, or was cut, removed or replaced meanwhile.
        """
        return self._opened().poll()

    def close(self) -> None:
        """Let go of the file; may be called twice."""
        if self._source is not None:
            self._source.close()

    def _opened(self) -> Replay:
        if self._source is None:
            from daq.recording.replay import Replay

            self._source = Replay(self.path, self._clock, self._rate)
        return self._source
