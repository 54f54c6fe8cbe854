"""Whether somebody is writing a recording: an advisory lock that ends with the writer's process."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

if sys.platform != "win32":
    import fcntl

__all__ = ["is_being_written", "lock_for_writing", "writer_alive"]


def lock_for_writing(fd: int) -> None:
    """Mark an open file as being written until it is closed, where the file system can."""
    if sys.platform != "win32":
        with contextlib.suppress(OSError):
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)


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
