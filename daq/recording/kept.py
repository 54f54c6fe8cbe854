"""The newest part of what a recording holds, kept in memory for the case that its file is spoilt."""

from __future__ import annotations

from collections import deque

from daq.recording.pending import Chunk

__all__ = ["KEPT_BYTES", "KEPT_NS", "KeptLines"]

KEPT_BYTES = 8 * 1024 * 1024
"""Half a minute at 10,000 readings a second."""
KEPT_NS = 300_000_000_000
"""Five minutes: longer than a usual run."""


class KeptLines:
    """Chunks in the order of the file, within a limit of bytes and one of time; the oldest go.

    Attributes:
        lost_readings: how many of the readings have gone.
        whole: nothing has gone.
    """

    def __init__(self, limit_bytes: int = KEPT_BYTES, limit_ns: int = KEPT_NS) -> None:
        self.lost_readings = 0
        self.whole = True
        self._limit_bytes = limit_bytes
        self._limit_ns = limit_ns
        self._chunks: deque[tuple[int, Chunk]] = deque()
        """With the newest time up to each."""
        self._size = 0
        self._newest_ns = 0

    @property
    def first_t_ns(self) -> int:
        """Time of the oldest reading that is kept; where none is, of the newest that is not."""
        return next((chunk.first_t_ns for _, chunk in self._chunks if chunk.readings), self._newest_ns)

    def add(self, chunk: Chunk) -> None:
        """Add at the end; the oldest go where it is too much."""
        self._newest_ns = max(self._newest_ns, chunk.last_t_ns)
        self._chunks.append((self._newest_ns, chunk))
        self._size += len(chunk.data)
        while self._chunks and self._too_much():
            _, gone = self._chunks.popleft()
            self._size -= len(gone.data)
            self.lost_readings += gone.readings
            self.whole = False

    def _too_much(self) -> bool:
        return self._size > self._limit_bytes or self._newest_ns - self._chunks[0][0] > self._limit_ns

    def chunks(self) -> list[Chunk]:
        """All that is kept."""
        return [chunk for _, chunk in self._chunks]
