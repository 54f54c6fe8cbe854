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
from daq.recording.pieces import Pieces

__all__ = [
    "GIVE_BACK",
    "Written",
    "copy_all",
    "has_name",
    "is_removed",
    "name_of",
    "new_file",
    "write_all",
]

GIVE_BACK = " What it held is kept as long as this run goes on: give the folder back."
"""Holds while the run goes on."""

_COMPARED_BYTES = 4096
_COPY_BYTES = 1024 * 1024
_DELETED = " (deleted)"
"""Linux says it behind the last name of a file that was removed (proc(5), /proc/pid/fd)."""


class Written:
    """What has been written into a file: its size, its digest, and both ends and sums of it to compare.

    Attributes:
        size: in bytes.
        readings: how many of them.
    """

    def __init__(self) -> None:
        self.size = 0
        self.readings = 0
        self._sha256 = hashlib.sha256()
        self._pieces = Pieces()
        self._spoilt = False
        """A piece of the file was found changed."""
        self._first = b""
        self._last = b""

    def add(self, data: bytes | memoryview, readings: int) -> None:
        """Note what was written behind the rest."""
        self.size += len(data)
        self.readings += readings
        self._sha256.update(data)
        self._pieces.add(data)
        if len(self._first) < _COMPARED_BYTES:
            self._first = (self._first + bytes(data[:_COMPARED_BYTES]))[:_COMPARED_BYTES]
        self._last = (self._last + bytes(data[-_COMPARED_BYTES:]))[-_COMPARED_BYTES:]

    @property
    def digest(self) -> str:
        """Of all of it, as hexadecimal digits."""
        return self._sha256.hexdigest()

    def stands_in(self, fd: int, *, thorough: bool, torn: bool) -> bool:
        """Whether the file holds this and nothing more, as far as its size, its ends and one piece of it tell.

        Args:
            fd: open for reading.
            thorough: read the ends even where the size is right, and the piece whose turn it is.
            torn: a part of a line stands behind it.
        """
        self._spoilt = self._spoilt or (thorough and not self._pieces.next_stands(fd))
        if self._spoilt:
            return False
        with contextlib.suppress(OSError):  # a file that can't be read tells nothing: writing will
            if not (thorough or torn) and os.fstat(fd).st_size == self.size:
                return True
            # Not the size alone: a file system that tells an old one must not cost a new file at each look.
            last = os.pread(fd, len(self._last) + (not torn), self.size - len(self._last))
            return last == self._last and os.pread(fd, len(self._first), 0) == self._first
        return True

    def compare(self, fd: int, enough: Callable[[], bool]) -> None:
        """Compare all of the file, until it is enough; see :meth:`Pieces.all_stand`."""
        self._spoilt = self._spoilt or not self._pieces.all_stand(fd, enough)

    def copied(self, fd: int, new: int, end: bytes = b"") -> bool:
        """Copy it out of the file, with its end from memory; False where that is not what was written.

        Raises:
            OSError: one can't be read, or the other not written.
        """
        sha256, offset, size = hashlib.sha256(), 0, self.size - len(end)
        while block := os.pread(fd, min(_COPY_BYTES, size - offset), offset):
            write_all(new, block)
            sha256.update(block)
            offset += len(block)
        write_all(new, end)
        sha256.update(end)
        same = sha256.digest() == self._sha256.digest()
        self._spoilt = self._spoilt and not same
        return same


def is_removed(fd: int) -> bool:
    """Whether the name of an open file was removed, so that nobody finds it: it may have others, as a copy's."""
    if os.fstat(fd).st_nlink == 0:
        return True
    return _told_name(fd).endswith(_DELETED) and name_of(fd) is None


def name_of(fd: int) -> Path | None:
    """The name that an open file has by now; None where the system does not tell it, or it was removed."""
    told = _told_name(fd)
    names = (Path(told), Path(told.removesuffix(_DELETED)))
    return next((name for name in names if has_name(fd, name)), None)


def _told_name(fd: int) -> str:
    try:
        return os.readlink(f"/proc/self/fd/{fd}")
    except OSError:
        return ""


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


def copy_all(fd: int, new: int) -> None:
    """Copy a file as it is now, wherever either is being read. Raises OSError."""
    offset = 0
    while block := os.pread(fd, _COPY_BYTES, offset):
        write_all(new, block)
        offset += len(block)


def _failure(path: Path, error: OSError) -> OutputError:
    return OutputError(
        f"{path.name} was removed or changed while it was written, and can't be put back into {path.parent} "
        f"({error.strerror}).{GIVE_BACK}"
    )
