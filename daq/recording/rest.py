"""What a recording could not take at its end, as a recording of its own in another place."""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Sequence
from pathlib import Path

from daq.errors import OutputError
from daq.recording.entries import CloseEntry
from daq.recording.lines import encode_lines
from daq.recording.own_file import write_all
from daq.recording.pending import Chunk

__all__ = ["write_rest"]


def write_rest(path: Path, head: Sequence[Chunk], waiting: Sequence[Chunk], t_ns: int, reason: str) -> int:
    """Write a closed recording from what stands before the first reading, and what still waits.

    Args:
        path: where; nothing may be there.
        head: session, machine and channels.
        waiting: the lines that were not taken.
        t_ns: now, from the session's start.
        reason: for the closing line.

    Returns:
        How many readings are in it.

    Raises:
        OutputError: it can't be written; nothing is left behind.
    """
    written = {chunk.data for chunk in head}
    body = b"".join([*(c.data for c in head), *(c.data for c in waiting if c.data not in written)])
    readings = sum(chunk.readings for chunk in waiting)
    digest = "sha256:" + hashlib.sha256(body).hexdigest()
    last = CloseEntry(t_ns=t_ns, reason=reason, readings=readings, digest=digest)
    try:
        fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    except OSError as error:
        raise OutputError(f"{path} can't be written ({error.strerror}).") from error
    try:
        write_all(fd, body + encode_lines([last]))
        os.fsync(fd)
    except OSError as error:
        with contextlib.suppress(OSError):
            path.unlink()
        raise OutputError(f"{path} can't be written ({error.strerror}).") from error
    finally:
        os.close(fd)
    return readings
