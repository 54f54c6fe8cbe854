"""What a recording could not take at its end, as a recording of its own in another place, as far as it fits there."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
from collections.abc import Sequence
from pathlib import Path

from daq.errors import OutputError
from daq.recording.entries import CloseEntry
from daq.recording.lines import encode_lines
from daq.recording.own_file import write_all
from daq.recording.pending import Chunk, split_chunks

__all__ = ["write_rest"]

_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_TRIES = 8


def write_rest(
    path: Path, head: Sequence[Chunk], waiting: Sequence[Chunk], t_ns: int, reason: str
) -> list[Chunk]:
    """Write a closed recording from what stands before the first reading, and what still waits.

    Where not all of it fits, the oldest is kept: so it joins on to what stands in the recording
    without a gap, and the newest is left over for another file.

    Args:
        path: where; nothing may be there.
        head: session, machine and channels.
        waiting: the lines that were not taken.
        t_ns: now, from the session's start.
        reason: for the closing line.

    Returns:
        What is left over.

    Raises:
        OutputError: not one line of it can be written; nothing is left behind.
    """
    written = {chunk.data for chunk in head}
    begin = b"".join(chunk.data for chunk in head)
    lines = [chunk for chunk in waiting if chunk.data not in written]
    try:
        fd = os.open(
            path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0), 0o666
        )
    except OSError as error:
        raise OutputError(f"{path} can't be written ({error.strerror}).") from error
    try:
        return _written(fd, begin, lines, t_ns, reason)
    except OSError as error:
        with contextlib.suppress(OSError):
            path.unlink()
        raise OutputError(f"{path} can't be written ({error.strerror}).") from error
    finally:
        os.close(fd)


def _written(fd: int, begin: bytes, lines: Sequence[Chunk], t_ns: int, reason: str) -> list[Chunk]:
    """Write all of it, or as many whole lines as there is room for; what is left over. Raises OSError."""
    body = b"".join(chunk.data for chunk in lines)
    size = len(body)
    for left in reversed(range(_TRIES)):
        readings, rest = split_chunks(lines, size)
        data = begin + body[:size]
        digest = "sha256:" + hashlib.sha256(data).hexdigest()
        last = encode_lines([CloseEntry(t_ns=t_ns, reason=reason, readings=readings, digest=digest)])
        try:
            write_all(fd, data + last)
            os.fsync(fd)
        except OSError as error:
            room = os.fstat(fd).st_size - len(begin) - len(last)
            os.ftruncate(fd, 0)
            size = body.rfind(b"\n", 0, max(0, room if room < size else size // 2)) + 1
            if error.errno not in _NO_ROOM or size == 0 or left == 0:
                raise
        else:
            return rest
    raise AssertionError("the last try returns or raises")
