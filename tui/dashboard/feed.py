"""Where the screen gets its snapshots from: a thread follows the recording, the screen takes the newest.

The thread keeps one snapshot, never a queue: a screen that stalls misses
pictures and nothing else. Readings are not at stake here; they are in the
recording already.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from tui.growth import Growth, Looking, growth_of

if TYPE_CHECKING:
    from pathlib import Path

    from daq.run.snapshot import Snapshot

__all__ = ["Feed", "ThreadFeed", "Updatable"]

PERIOD_S = 0.25
"""Without news a snapshot is made so often, for the ages in it."""
_LEAST_PERIOD_S = 0.05
_LEAST_REST_S = 0.01


class Updatable(Protocol):
    """What :class:`tui.followed.Followed` offers.

    Attributes:
        notice: what it is busy with, or "".
        on_progress: told how much of the work on the whole recording is done, once the run has ended.
    """

    notice: str
    on_progress: Callable[[float], None]

    def update(self) -> Snapshot:
        """Follow the recording up to now."""
        ...

    def grown(self) -> bool:
        """Whether there is more in the recording than the last update took; costs next to nothing."""
        ...


class Feed(Protocol):
    """What the dashboard asks of its source."""

    def start(self) -> None:
        """Begin to follow."""
        ...

    def latest(self) -> Snapshot | None:
        """The newest snapshot, or None before the first; raises what went wrong."""
        ...

    def notice(self) -> str:
        """What it is busy with, or ""."""
        ...

    def stop(self) -> None:
        """End; may be called twice."""
        ...


class ThreadFeed:
    """Follows in a thread of its own: as soon as something is new, and at most half the time.

    Attributes:
        news: called in that thread after each snapshot; must be quick and never wait.
    """

    def __init__(self, run: Updatable, path: Path | None = None) -> None:
        """Follow a run.

        Args:
            run: gives snapshots.
            path: its recording, to be told when it grows.
        """
        self.news: Callable[[], None] = lambda: None
        self._run = run
        self._latest: Snapshot | None = None
        self._error: BaseException | None = None
        self._began_s = 0.0
        self._ended = threading.Event()
        self._path = path
        self._growth: Growth = Looking()
        self._thread = threading.Thread(target=self._follow, name="spinvolt-follow", daemon=True)

    def start(self) -> None:
        """Begin to follow."""
        self._thread.start()

    def latest(self) -> Snapshot | None:
        """The newest snapshot; raises what the following raised."""
        if self._error is not None:
            raise self._error
        return self._latest

    def notice(self) -> str:
        """What the run is busy with."""
        return self._run.notice

    def stop(self) -> None:
        """End the thread and wait for it."""
        self._ended.set()
        self._growth.wake()
        if self._thread.is_alive():
            self._thread.join(timeout=5.0)

    def _follow(self) -> None:
        if self._path is not None:
            self._growth = growth_of(self._path)
        try:
            while not self._ended.is_set() and self._updated():
                self._wait_for_news()
        except Exception as error:  # noqa: BLE001 - a thread's border: handed to the screen by latest()
            self._error = error
        finally:
            self._growth.close()

    def _updated(self) -> bool:
        """Make a snapshot; False where no other will differ from it."""
        self._began_s = time.monotonic()
        self._latest = self._run.update()
        self.news()
        return not self._latest.finished

    def _wait_for_news(self) -> None:
        # A reading that came meanwhile waits for the next update; how often the result is worked out anew, and
        # how long the processor is left to others after that, is the followed run's own affair.
        self._ended.wait(max(self._began_s + _LEAST_PERIOD_S - time.monotonic(), _LEAST_REST_S))
        while not self._ended.is_set() and not self._run.grown():
            left_s = self._began_s + PERIOD_S - time.monotonic()
            if left_s <= 0:
                return
            self._growth.wait(left_s)
