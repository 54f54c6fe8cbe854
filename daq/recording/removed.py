"""A recording whose file was removed under its writer: what stands in it is still there, and is put back."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from daq.errors import OutputError
from daq.locking import lock_for_writing

__all__ = ["is_removed", "put_back", "write_all"]

_COPY_BYTES = 1024 * 1024


def is_removed(fd: int) -> bool:
    """Whether no name leads to an open file any more, so that it will be gone when it is closed."""
    return os.fstat(fd).st_nlink == 0


def put_back(fd: int, path: Path) -> int:
    """Write an open file anew under its name, and its folder where that is missing too.

    Returns:
        The new file, open for writing.

    Raises:
        OutputError: it can't be; the old file is as it was.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        new = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND, 0o666)
    except OSError as error:
        raise _failure(path, error) from error
    try:
        lock_for_writing(new)
        offset = 0
        while block := os.pread(fd, _COPY_BYTES, offset):
            write_all(new, block)
            offset += len(block)
        return new
    except OSError as error:
        os.close(new)
        with contextlib.suppress(OSError):
            path.unlink()
        raise _failure(path, error) from error


def write_all(fd: int, data: bytes) -> None:
    """Write all of it; raises OSError."""
    view = memoryview(data)
    while view:
        view = view[os.write(fd, view) :]


def _failure(path: Path, error: OSError) -> OutputError:
    return OutputError(
        f"{path.name} was removed while it was written, and can't be put back into {path.parent} "
        f"({error.strerror}). All of it is held as long as this run goes on: give the folder back."
    )
