"""Whether somebody is writing a recording: an advisory lock that ends with the writer's process."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from pathlib import Path

if sys.platform != "win32":
    import fcntl

__all__ = ["is_being_written", "lock_for_writing", "writer_alive"]

_TRIES = 300
_TRY_AGAIN_S = 0.001


def lock_for_writing(fd: int) -> None:
    """Mark an open file as being written until it is closed, where the file system can.

    Whoever asks whether a file is being written holds its lock for a moment: that is waited for.
    """
    if sys.platform == "win32":
        return
    pause = threading.Event()  # never set: a sleep that needs no clock
    with contextlib.suppress(OSError):
        for _ in range(_TRIES):
            if _locked(fd):
                return
            pause.wait(_TRY_AGAIN_S)


def _locked(fd: int) -> bool:
    """Whether the lock could be had now; raises OSError where there are none."""
    try:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def writer_alive(path: Path) -> bool | None:
    """Whether a writer has the file; None where this can't be known."""
    if sys.platform == "win32":
        return None
    try:
        fd = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    except OSError:
        return None
    try:
        return is_being_written(fd)
    finally:
        os.close(fd)


def is_being_written(fd: int) -> bool | None:
    """Whether a writer has the file that is open here for reading, whatever its name is by now."""
    if sys.platform == "win32":
        return None
    try:
        fcntl.flock(fd, fcntl.LOCK_SH | fcntl.LOCK_NB)
        fcntl.flock(fd, fcntl.LOCK_UN)
    except BlockingIOError:
        return True
    except OSError:
        return None
    return False
