"""A replay that can be paused, stepped, sought in and sped up: a feed for the dashboard with controls beside it."""

from __future__ import annotations

import queue
import threading
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tui.latereplay import LateReplay
from tui.view.scrub import RATES, SpeedMap, speed_map

if TYPE_CHECKING:
    from daq.model.clock import Clock
    from daq.run.live import LiveRun
    from daq.run.recorded import RecordedRun
    from daq.run.snapshot import Snapshot

__all__ = ["ReplayFeed", "ReplayState"]

_PERIOD_S = 0.1
_STEP_S = 0.5
"""A step where the readings' times are not known yet."""


@dataclass(frozen=True)
class ReplayState:
    """Where a replay is."""

    position_s: float
    length_s: float | None
    """None until the whole recording was read."""
    paused: bool
    rate: float
    speed: SpeedMap | None
    """Where the speed was in the window; None until the whole recording was read."""


class ReplayFeed:
    """Follows a replay in a thread; a second thread reads the whole recording for the scrub line and the result.

    The controls may be called from any thread and return at once.
    """

    def __init__(self, path: Path, clock: Clock, rate: float = 1.0, *, at_end: bool = False) -> None:
        """Open the recording.

        Args:
            path: the recording.
            clock: gives the time that passes.
            rate: times as fast; 0 for as fast as it goes.
            at_end: begin with the whole run and its result.

        Raises:
            RecordingError: there is no such file.
        """
        self._source = LateReplay(path, clock, rate)
        self._run: LiveRun | None = None
        self._path = path
        self._wishes: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        self._latest: Snapshot | None = None
        self._error: BaseException | None = None
        self._recorded: RecordedRun | None = None
        self._whole: Snapshot | None = None
        self._speed: SpeedMap | None = None
        self._rows_s: list[float] = []
        self._part = 0.0
        self._at_end = at_end
        self._ended = threading.Event()
        self._read = threading.Event()
        self._wake = threading.Event()
        self._threads = [
            threading.Thread(target=self._follow, name="spinvolt-replay", daemon=True),
            threading.Thread(target=self._read_whole, name="spinvolt-replay-whole", daemon=True),
        ]

    def start(self) -> None:
        """Begin."""
        for thread in self._threads:
            thread.start()

    def latest(self) -> Snapshot | None:
        """The newest snapshot; raises what the following raised."""
        if self._error is not None:
            raise self._error
        return self._latest

    def notice(self) -> str:
        """That the whole recording is still being read, where that is waited for."""
        waited_for = self._at_end or self._source.finished
        if self._read.is_set() or not waited_for:
            return ""
        return f"Working out the whole run, {100 * self._part:.0f} % done ..."

    def stop(self) -> None:
        """End both threads and let go of the file."""
        self._ended.set()
        self._wake.set()
        for thread in self._threads:
            if thread.is_alive():
                thread.join(timeout=5.0)
        self._source.close()

    def state(self) -> ReplayState:
        """Where the replay is now."""
        position_s = self._source.position_ns * 1e-9
        length_s = None if self._recorded is None else self._recorded.recording.last_t_ns * 1e-9
        if length_s is not None:
            position_s = min(position_s, length_s)
        return ReplayState(position_s, length_s, self._source.paused, self._source.rate, self._speed)

    def toggle(self) -> None:
        """Pause or go on; at the end: play from the beginning."""
        self._wish(self._toggle)

    def seek(self, to_s: float) -> None:
        """Go to a time."""
        self._wish(lambda: self._seek(to_s))

    def seek_by(self, by_s: float) -> None:
        """Go that much on, or back."""
        self._wish(lambda: self._seek(self.state().position_s + by_s))

    def step(self, by: int) -> None:
        """Stand still at the next volts reading, or at the one before."""
        self._wish(lambda: self._step(by))

    def set_rate(self, rate: float) -> None:
        """Play that many times as fast."""
        self._wish(lambda: setattr(self._source, "rate", rate))

    def faster(self, by: int) -> None:
        """Take the next rate up, or down."""
        self._wish(lambda: self._faster(by))

    def _wish(self, do: Callable[[], None]) -> None:
        self._wishes.put(do)
        self._wake.set()

    def _toggle(self) -> None:
        if self._source.finished:
            self._seek(0.0)
            self._source.resume()
        elif self._source.paused:
            self._source.resume()
        else:
            self._source.pause()

    def _seek(self, to_s: float) -> None:
        if self._recorded is not None:
            to_s = min(to_s, self._recorded.recording.last_t_ns * 1e-9)
        if self._source.seek(round(max(to_s, 0.0) * 1e9)):
            self._run = None

    def _step(self, by: int) -> None:
        self._source.pause()
        now_s = self.state().position_s
        rows_s = self._rows_s
        # A microsecond aside: a time that was sought is rounded to whole nanoseconds.
        index = bisect_left(rows_s, now_s + 1e-6) if by > 0 else bisect_left(rows_s, now_s - 1e-6) - 1
        self._seek(rows_s[index] if 0 <= index < len(rows_s) else now_s + by * _STEP_S)

    def _faster(self, by: int) -> None:
        now = self._source.rate or RATES[-1]
        nearest = min(range(len(RATES)), key=lambda at: abs(RATES[at] - now))
        self._source.rate = RATES[min(max(nearest + by, 0), len(RATES) - 1)]

    def _follow(self) -> None:
        try:
            if self._at_end:
                self._read.wait()
                if self._recorded is not None:
                    self._source.seek(self._recorded.recording.last_t_ns)
            while not self._ended.is_set():
                self._latest = self._caught_up()
                self._wake.wait(0.01 if self._source.rate == 0 and not self._source.finished else _PERIOD_S)
                self._wake.clear()
                while not self._wishes.empty():
                    self._wishes.get()()
        except Exception as error:  # noqa: BLE001 - a thread's border: handed to the screen by latest()
            self._error = error

    def _caught_up(self) -> Snapshot:
        """Take in all that is due; the whole run's result where that is all there is."""
        if (
            self._source.finished
            and self._latest is not None
            and self._latest.finished
            and self._whole is not None
        ):
            return self._latest
        snapshot = self._update()
        before = -1
        while not snapshot.finished and not self._ended.is_set():
            taken = sum(health.readings for health in snapshot.health)
            if taken == before or self._source.rate == 0:
                break
            before, snapshot = taken, self._update()
        if (
            snapshot.finished
            and self._read.wait(0 if not self._at_end else None)
            and self._recorded is not None
        ):
            self._whole = self._live().whole(self._recorded.analysis())
            return self._whole
        return snapshot

    def _update(self) -> Snapshot:
        return self._live().update(self._source.position_ns * 1e-9)

    def _live(self) -> LiveRun:
        """What takes the lines in: a new one after each way back; made in the thread, not before the first frame."""
        if self._run is None:
            from daq.run.live import LiveRun

            self._run = LiveRun(self._source)
        return self._run

    def _read_whole(self) -> None:
        from daq.run.recorded import work_out

        try:
            if not self._at_end:
                self._ended.wait(0.3)  # the first picture comes before the whole
            recorded = work_out(self._path, self._progress)
            rows = recorded.analysis().rows
            # As they arrived: the rows' own times lie on the smooth clock, a little before or after.
            volts = recorded.data.volts
            self._rows_s = [] if volts is None else volts.time_s.tolist()
            self._speed = speed_map(recorded.data, rows, recorded.recording.last_t_ns * 1e-9)
            self._recorded = recorded
        except Exception as error:  # noqa: BLE001 - a thread's border: handed to the screen by latest()
            self._error = error
        finally:
            self._read.set()
            self._wake.set()

    def _progress(self, part: float) -> None:
        self._part = part
