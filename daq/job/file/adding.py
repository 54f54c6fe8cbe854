"""Adds lines to a job file: whole and on the disk, or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Sequence
from pathlib import Path

from daq.errors import OutputError
from daq.job.file.entries import (
    JobEntry,
    JobLine,
    MachineLine,
    NoteLine,
    ReadingLine,
    RepairLine,
    SkipLine,
    VerdictLine,
)
from daq.job.file.journal import encoded

__all__ = ["append_to", "take_back"]


def append_to(fd: int, path: Path, lines: Sequence[JobLine]) -> None:
    """Add lines at the end of an open file, and wait until they are on the disk.

    Where the file ends in the middle of a line (a crash, a hand), that line is ended first. Where not all
    can be written, what was is taken back, so that no half line of ours stays.

    Args:
        fd: open for reading and appending, and held: see :class:`daq.job.file.hold.Hold`.
        path: its name, for what is said where it goes wrong.
        lines: what is added.

    Raises:
        OutputError: the file can't be written; says what was not added, whether the file is as it was, and
            what to do next.
    """
    data = encoded(lines)
    size, wrote = -1, 0
    try:
        size = os.fstat(fd).st_size
        if size and _last_byte(fd, size) != b"\n":
            data = b"\n" + data
        while wrote < len(data):  # a write that comes short tells why only when one asks it for the rest
            wrote += os.write(fd, data[wrote:])
        os.fsync(fd)
    except OSError as error:
        as_it_was = not wrote or take_back(fd, size, wrote)
        raise OutputError(_not_added(path, error, lines, as_it_was=as_it_was)) from error


def take_back(fd: int, size: int, wrote: int) -> bool:
    """Cut a file back to what it was before something was added; whether it is so.

    Args:
        fd: open for writing.
        size: its length before, in bytes.
        wrote: how many bytes were added. Where the file is of another length now, somebody else added to it
            (on a file system that knows no locks), and nothing is cut off.
    """
    with contextlib.suppress(OSError):
        if os.fstat(fd).st_size == size + wrote:
            os.ftruncate(fd, size)
            return True
    return False


def _last_byte(fd: int, size: int) -> bytes:
    os.lseek(fd, size - 1, os.SEEK_SET)
    return os.read(fd, 1)


def _not_added(path: Path, error: OSError, lines: Sequence[JobLine], *, as_it_was: bool) -> str:
    """What happened, what it means for the file, and what to do next."""
    what = " and ".join(_named(line) for line in lines)
    was = "were" if len(lines) > 1 else "was"
    why, first = _why(error)
    left = (
        f"{what} {was} not added to {path.name}, which is as it was before."
        if as_it_was
        else f"{what} {was} not added whole to {path.name}, and the beginning can't be taken out again: it stays as a "
        "line that is named and not judged; all else is as it was before."
    )
    if all(isinstance(line, VerdictLine) for line in lines):
        return (
            f"{why}: {left} {first}; nothing is to be given again, the verdict is worked out anew each time."
        )
    return f"{why}: {left} {first}, then give it again."


def _why(error: OSError) -> tuple[str, str]:
    """Why a file can't be added to, and what is to be done about that."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "The disk is full", "Make room"
    if error.errno == errno.EFBIG:
        return "The file would be larger than one may be here", "Put it where a larger one may be"
    return f"The file can't be written ({error.strerror or error})", "See to the drive that it is on"


def _named(line: JobLine) -> str:
    match line:
        case ReadingLine():
            return f"the reading {line.slot}"
        case VerdictLine():
            return f"the verdict on {line.step}"
        case SkipLine():
            return f"that {line.step} is left out"
        case RepairLine():
            return "the repair"
        case NoteLine():
            return "the note"
        case MachineLine():
            return "the machine card"
        case JobEntry():
            return "the job's first line"
