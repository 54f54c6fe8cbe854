"""A replay that is opened when its first lines are asked for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tui.late import Late

if TYPE_CHECKING:
    from daq.model.clock import Clock
    from daq.recording.replay import Replay

__all__ = ["LateReplay"]


class LateReplay(Late["Replay"]):
    """Plays a recording back; until it is opened it stands at its beginning.

    Where it is may be asked in any thread, all else in one.
    """

    def __init__(self, path: Path, clock: Clock, rate: float) -> None:
        """Remember the recording; arguments as of :class:`daq.recording.replay.Replay`.

        Raises:
            RecordingError: there is no such file.
        """
        self._clock = clock
        self._rate = rate
        super().__init__(path)

    @property
    def path(self) -> Path:
        """The recording."""
        return self._path

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

    def _open(self) -> Replay:
        from daq.recording.replay import Replay

        return Replay(self._path, self._clock, self._rate)
