"""Files that can be read to an end: ordinary ones, which say how large they are."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
import sys
from io import FileIO
from pathlib import Path

__all__ = ["NotOrdinaryError", "digest_of", "file_digest", "open_ordinary"]

_BLOCK_BYTES = 256 * 1024


class NotOrdinaryError(OSError):
    """What was to be read is a device, a pipe, or one of the files that the system makes up as they are read."""

    def __init__(self) -> None:
        super().__init__(errno.EINVAL, "it is no ordinary file")


def open_ordinary(path: Path) -> FileIO:
    """Open a file for reading that is worth reading: nothing that waits, and nothing that never ends.

    Below /proc a file passes for an ordinary one of no size, whatever is in it; some of them have no end, and
    some wait for what is yet to come. So what has no size and yet holds something is taken for none.

    Raises:
        NotOrdinaryError: it is no ordinary file.
        OSError: it can't be opened.
    """
    try:
        mode = os.stat(path).st_mode
    except ValueError as error:  # such as a name with a zero byte
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(path)) from error
    if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
        raise NotOrdinaryError  # before it is opened: a pipe would wait, and a device may do something
    file = FileIO(path)
    try:
        if not _tells_its_size(file.fileno()):
            raise NotOrdinaryError
        file.seek(0)
    except BaseException:
        file.close()
        raise
    return file


def file_digest(path: Path) -> str:
    """The digest of a whole file: "sha256:" and 64 hex digits.

    Raises:
        OSError: it can't be read, or is no ordinary file.
    """
    with open_ordinary(path) as file:
        return "sha256:" + digest_of(file, "sha256").hex()


def digest_of(file: FileIO, kind: str) -> bytes:
    """The digest of what is in an open file, up to the size that it has now.

    Args:
        file: what it begins with is read again.
        kind: such as "sha256"; see :mod:`hashlib`.

    Raises:
        OSError: it can't be read.
    """
    told, left = hashlib.new(kind), os.fstat(file.fileno()).st_size
    block = memoryview(bytearray(_BLOCK_BYTES))
    file.seek(0)
    while left > 0 and (size := file.readinto(block[:left])):
        told.update(block[:size])
        left -= size
    return told.digest()


def _tells_its_size(fd: int) -> bool:
    if os.fstat(fd).st_size or sys.platform == "win32":
        return True
    os.set_blocking(fd, False)
    try:
        return not os.read(fd, 1) or os.fstat(fd).st_size > 0  # one that is being written has grown meanwhile
    except OSError:
        return False  # nothing of an ordinary file of no size can be unreadable
