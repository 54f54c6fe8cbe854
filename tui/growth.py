"""Waits until a file grows: told by the system where it can tell, by looking again and again elsewhere.

To look costs little, to wake up costs more: fifty looks a second are a third of a percent of a core.
"""

from __future__ import annotations

import contextlib
import os
import select
import sys
import threading
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["Growth", "Looking", "growth_of"]

_LOOK_S = 0.02
_IN_MODIFY = 0x2
"""``linux/inotify.h``; its two flags are those of open(2)."""


class Growth(Protocol):
    """What has happened to a file since it was asked last."""

    def wait(self, timeout_s: float) -> None:
        """Wait until the file may have grown since the last call, somebody wakes this up, or the time is over."""
        ...

    def wake(self) -> None:
        """End a wait, from any thread; one to come ends at once."""
        ...

    def close(self) -> None:
        """Let go of what it holds; may be called twice."""
        ...


def growth_of(path: Path) -> Growth:
    """The best that there is on this system.

    Args:
        path: the file; where the system does not tell of it, it is to be looked at after each wait.
    """
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):
            return _Told(path)
    return Looking()


class Looking:
    """Waits so shortly that one may just look."""

    def __init__(self) -> None:
        self._woken = threading.Event()

    def wait(self, timeout_s: float) -> None:
        self._woken.wait(min(timeout_s, _LOOK_S))

    def wake(self) -> None:
        self._woken.set()

    def close(self) -> None:
        """Nothing is held."""


class _Told:
    """Told by the kernel, inotify(7)."""

    def __init__(self, path: Path) -> None:
        """Begin to watch.

        Raises:
            OSError: the system does not tell of this file.
            AttributeError: the system's library knows nothing of it.
        """
        import ctypes  # only in the thread that waits, not before the first frame

        library = ctypes.CDLL(None, use_errno=True)
        self._file = library.inotify_init1(os.O_NONBLOCK | os.O_CLOEXEC)
        if self._file < 0:
            raise OSError(ctypes.get_errno(), "no inotify")
        if library.inotify_add_watch(self._file, os.fsencode(path), _IN_MODIFY) < 0:
            os.close(self._file)
            raise OSError(ctypes.get_errno(), "no watch")
        self._woken, self._wake = os.pipe()
        self._poll = select.poll()
        self._poll.register(self._file, select.POLLIN)
        self._poll.register(self._woken, select.POLLIN)
        self._lock = threading.Lock()
        self._closed = False

    def wait(self, timeout_s: float) -> None:
        if self._poll.poll(max(timeout_s, 0.0) * 1000.0):
            with contextlib.suppress(BlockingIOError):
                os.read(self._file, 65536)

    def wake(self) -> None:
        with self._lock:
            if not self._closed:
                os.write(self._wake, b".")

    def close(self) -> None:
        with self._lock:
            if self._closed:
                return
            self._closed = True
        for number in (self._file, self._woken, self._wake):
            os.close(number)
