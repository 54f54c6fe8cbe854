"""Whether a growing file still holds what was written into it: sums of its pieces, compared a piece at a time."""

from __future__ import annotations

import os
import zlib
from collections.abc import Callable

__all__ = ["PIECE_BYTES", "Pieces"]

PIECE_BYTES = 1024 * 1024
"""Read and summed in about a millisecond."""
_NEWEST = 9
"""Pieces in which the newest 8 MB lie, which a writer still has in memory."""


class Pieces:
    """CRC-32 of each piece of a file. They find what was changed by mistake; the closing line has a digest."""

    def __init__(self) -> None:
        self._sums: list[int] = []
        """Of the whole pieces."""
        self._sum = 0
        """Of the last one, which grows."""
        self._size = 0
        self._turn = 0

    def add(self, data: bytes | memoryview) -> None:
        """Note what was written behind the rest."""
        view = memoryview(data)
        while view:
            part = view[: PIECE_BYTES - self._size % PIECE_BYTES]
            self._sum = zlib.crc32(part, self._sum)
            self._size += len(part)
            if self._size % PIECE_BYTES == 0:
                self._sums.append(self._sum)
                self._sum = 0
            view = view[len(part) :]

    def next_stands(self, fd: int) -> bool:
        """Whether the piece whose turn it is stands in the file; in turn one of the newest and one of all."""
        count = -(-self._size // PIECE_BYTES)
        if count == 0:
            return True
        self._turn += 1
        rounds, of_all = divmod(self._turn, 2)
        number = rounds % count if of_all else count - 1 - rounds % min(count, _NEWEST)
        return self._stands(fd, number)

    def all_stand(self, fd: int, enough: Callable[[], bool]) -> bool:
        """Whether all pieces stand in the file.

        Args:
            fd: open for reading.
            enough: asked after each piece, from the newest to the oldest; the rest is taken as it is then.
        """
        for number in reversed(range(-(-self._size // PIECE_BYTES))):
            if not self._stands(fd, number):
                return False
            if enough():
                break
        return True

    def _stands(self, fd: int, number: int) -> bool:
        """A file that can't be read tells nothing."""
        start = number * PIECE_BYTES
        try:
            data = os.pread(fd, min(PIECE_BYTES, self._size - start), start)
        except OSError:
            return True
        return zlib.crc32(data) == (self._sums[number] if number < len(self._sums) else self._sum)
