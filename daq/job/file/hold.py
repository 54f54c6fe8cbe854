"""One writer of a job file at a time: an advisory lock on the file itself, which ends with its process."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Self

from daq.errors import OutputError
from daq.job.file.adding import append_to
from daq.job.file.entries import JobLine
from daq.output import output_error

if sys.platform != "win32":
    import fcntl

__all__ = ["Hold"]

_TRIES = 40
_PAUSE_S = 0.05
_LOCKS = Path("/proc/locks")


class Hold:
    """A job file, held for writing until it is closed. Reading needs no hold.

    Where the file system, or the operating system, knows no such locks, nothing is held and nothing is refused.
    """

    def __init__(self, path: Path, tries: int = _TRIES) -> None:
        """Take the file.

        Args:
            path: the job file.
            tries: how often to try, a twentieth of a second apart, until another writer lets go.

        Raises:
            OutputError: it can't be opened for writing, or another process has it; says which.
        """
        self.path = path
        holder = ""
        for left in range(tries, 0, -1):
            self._fd = _opened(path)
            if self._locked() and self._same():
                return
            holder = _holder(self._fd)
            self.close()
            if left > 1:
                threading.Event().wait(_PAUSE_S)
        raise OutputError(
            f"{path.name} is being written by {holder}: let that end, then try again. Nothing was added."
        )

    def append(self, lines: Sequence[JobLine]) -> None:
        """Add lines at the end; they are on the disk when this returns.

        Raises:
            OutputError: they can't be written.
        """
        append_to(self._fd, self.path, lines)

    def close(self) -> None:
        """Let go; may be called twice."""
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _locked(self) -> bool:
        if sys.platform == "win32":
            return True
        try:
            fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:  # a file system without locks
            return True
        return True

    def _same(self) -> bool:
        """Whether the file by that name is still the one that was opened, not one that took its place."""
        try:
            return os.path.samestat(os.fstat(self._fd), self.path.stat())
        except OSError:
            return False


def _opened(path: Path) -> int:
    try:
        return os.open(path, os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0))
    except OSError as error:
        raise output_error(path, error) from error


def _holder(fd: int) -> str:
    """Who has the lock, where the system tells; in words."""
    inode = os.fstat(fd).st_ino
    try:
        table = _LOCKS.read_text("ascii", "replace")
    except OSError:
        return "another program"
    for line in table.splitlines():
        parts = line.split()
        # As in "1: FLOCK  ADVISORY  WRITE 1234 fd:01:5678 0 EOF"; waiting ones have an arrow in front.
        if len(parts) >= 8 and parts[1] == "FLOCK" and parts[5].rpartition(":")[2] == str(inode):
            return f"another program (process {parts[4]})" if parts[4].isdigit() else "another program"
    return "another program"
