"""Encoded lines that wait for the file, within a limit; what had to go is counted."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Sequence

import msgspec

__all__ = ["Chunk", "PendingLines", "split_chunks"]


class Chunk(msgspec.Struct, frozen=True):
    """Whole lines, either all readings or all entries."""

    data: bytes
    readings: int = 0
    """How many readings; 0 for entries."""
    first_t_ns: int = 0
    last_t_ns: int = 0


class PendingLines:
    """A queue of chunks, bounded in bytes. One thread puts, another takes.

    When it is full the oldest readings go (entries never do, for later
    readings make no sense without them) and are counted in ``pop_lost``.
    """

    def __init__(self, limit_bytes: int) -> None:
        self._limit_bytes = limit_bytes
        self._chunks: deque[Chunk] = deque()
        self._size = 0
        self._lost: Chunk | None = None
        self._lock = threading.Lock()

    @property
    def size(self) -> int:
        """Bytes that wait."""
        return self._size

    @property
    def readings(self) -> int:
        """Readings that wait."""
        with self._lock:
            return sum(chunk.readings for chunk in self._chunks)

    def put(self, chunk: Chunk) -> None:
        """Add at the end; the oldest readings go where it would be too much."""
        with self._lock:
            self._chunks.append(chunk)
            self._size += len(chunk.data)
            if self._size > self._limit_bytes:
                self._drop_oldest()

    def put_back(self, chunks: Sequence[Chunk]) -> None:
        """Add at the front, in their order."""
        with self._lock:
            self._chunks.extendleft(reversed(chunks))
            self._size += sum(len(chunk.data) for chunk in chunks)

    def take(self, limit_bytes: int) -> list[Chunk]:
        """Take chunks from the front, up to that many bytes but at least one, if there is any."""
        taken: list[Chunk] = []
        size = 0
        with self._lock:
            while self._chunks and (not taken or size + len(self._chunks[0].data) <= limit_bytes):
                taken.append(self._chunks.popleft())
                size += len(taken[-1].data)
            self._size -= size
        return taken

    def pop_lost(self) -> Chunk | None:
        """What had to go since the last call, as a chunk without data; None for nothing."""
        with self._lock:
            lost, self._lost = self._lost, None
        return lost

    def _drop_oldest(self) -> None:
        kept: list[Chunk] = []
        while self._size > self._limit_bytes and self._chunks:
            chunk = self._chunks.popleft()
            if chunk.readings:
                self._size -= len(chunk.data)
                self._lost = _merged(self._lost, chunk)
            else:
                kept.append(chunk)
        self._chunks.extendleft(reversed(kept))


def _merged(lost: Chunk | None, chunk: Chunk) -> Chunk:
    if lost is None:
        return Chunk(b"", chunk.readings, chunk.first_t_ns, chunk.last_t_ns)
    return Chunk(
        b"",
        lost.readings + chunk.readings,
        min(lost.first_t_ns, chunk.first_t_ns),
        max(lost.last_t_ns, chunk.last_t_ns),
    )


def split_chunks(chunks: Sequence[Chunk], size: int) -> tuple[int, list[Chunk]]:
    """Split at a byte that follows a newline.

    Returns:
        The readings in front of it, and the chunks behind it.
    """
    readings = 0
    for index, chunk in enumerate(chunks):
        if size >= len(chunk.data):
            size -= len(chunk.data)
            readings += chunk.readings
            continue
        in_front = chunk.data.count(b"\n", 0, size) if chunk.readings else 0
        rest = msgspec.structs.replace(chunk, data=chunk.data[size:], readings=chunk.readings - in_front)
        return readings + in_front, [rest, *chunks[index + 1 :]]
    return readings, []
