"""Whether an open file is still what its writer made of it, and a new one for what is to go on."""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable
from pathlib import Path

from daq.errors import OutputError
from daq.locking import lock_for_writing
from daq.recording.names import MOST_TRIES, next_name

__all__ = ["Written", "has_name", "is_removed", "new_file", "write_all"]

_COMPARED_BYTES = 4096
_COPY_BYTES = 1024 * 1024


class Written:
    """What has been written into a file: its size, its digest, and both ends of it to compare.

    Attributes:
        size: in bytes.
        readings: how many of them.
    """

    def __init__(self) -> None:
        self.size = 0
        self.readings = 0
        self._sha256 = hashlib.sha256()
        self._first = b""
        self._last = b""

    def add(self, data: bytes | memoryview, readings: int) -> None:
        """Note what was written behind the rest."""
        self.size += len(data)
        self.readings += readings
        self._sha256.update(data)
        if len(self._first) < _COMPARED_BYTES:
            self._first = (self._first + bytes(data[:_COMPARED_BYTES]))[:_COMPARED_BYTES]
        self._last = (self._last + bytes(data[-_COMPARED_BYTES:]))[-_COMPARED_BYTES:]

    @property
    def digest(self) -> str:
        """Of all of it, as hexadecimal digits."""
        return self._sha256.hexdigest()

    def stands_in(self, fd: int, *, thorough: bool, torn: bool) -> bool:
        """Whether the file holds this and nothing more, as far as its size and its ends tell.

        Args:
            fd: open for reading.
            thorough: read the ends even where the size is right.
            torn: a part of a line stands behind it.
        """
        with contextlib.suppress(OSError):  # a file that can't be read tells nothing: writing will
            if not (thorough or torn) and os.fstat(fd).st_size == self.size:
                return True
            # Not the size alone: a file system that tells an old one must not cost a new file at each look.
            last = os.pread(fd, len(self._last) + (not torn), self.size - len(self._last))
            return last == self._last and os.pread(fd, len(self._first), 0) == self._first
        return True

    def copied(self, fd: int, new: int) -> bool:
        """Copy it out of the file; False where the file does not hold it any more. Raises OSError."""
        sha256, offset = hashlib.sha256(), 0
        while block := os.pread(fd, min(_COPY_BYTES, self.size - offset), offset):
            write_all(new, block)
            sha256.update(block)
            offset += len(block)
        return sha256.digest() == self._sha256.digest()


def is_removed(fd: int) -> bool:
    """Whether no name leads to an open file any more, so that it will be gone when it is closed."""
    return os.fstat(fd).st_nlink == 0


def has_name(fd: int, path: Path) -> bool:
    """Whether that name leads to the open file."""
    try:
        return os.path.samestat(os.fstat(fd), path.stat())
    except OSError:
        return False


def new_file(path: Path, fill: Callable[[int], None]) -> tuple[int, Path]:
    """Make a file under that name or the first one after it that is free, and its folder where that is missing.

    Args:
        path: the name to begin with.
        fill: writes what belongs into it; raises OSError where that fails.

    Returns:
        The file, open for writing and locked, and its name.

    Raises:
        OutputError: it can't be made; nothing is left behind.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fd, name = _first_free(path)
    except OSError as error:
        raise _failure(path, error) from error
    try:
        lock_for_writing(fd)
        fill(fd)
    except OSError as error:
        os.close(fd)
        with contextlib.suppress(OSError):
            name.unlink()
        raise _failure(path, error) from error
    return fd, name


def _first_free(path: Path) -> tuple[int, Path]:
    for _ in range(MOST_TRIES - 1):
        with contextlib.suppress(FileExistsError):
            return _create(path), path
        path = next_name(path)
    return _create(path), path


def _create(path: Path) -> int:
    return os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND, 0o666)


def write_all(fd: int, data: bytes) -> None:
    """Write all of it; raises OSError."""
    view = memoryview(data)
    while view:
        view = view[os.write(fd, view) :]


def _failure(path: Path, error: OSError) -> OutputError:
    return OutputError(
        f"{path.name} was removed or changed while it was written, and can't be put back into {path.parent} "
        f"({error.strerror}). What it held is kept as long as this run goes on: give the folder back."
    )
