"""The one bounded queue between a reader thread and the event loop."""

from __future__ import annotations

import asyncio
import threading
from collections import deque
from typing import NamedTuple

from daq.driver_api import TransportError

__all__ = ["MAX_QUEUE_BYTES", "MAX_QUEUE_CHUNKS", "MOST_TAKEN_BYTES", "Chunk", "ChunkQueue"]

MAX_QUEUE_BYTES = 1 << 20
"""About 18 minutes of a 9600 baud line that never pauses."""
MAX_QUEUE_CHUNKS = 16_384
MOST_TAKEN_BYTES = 32 * 1024
"""Handed out at a time, so that a backlog keeps nobody else in the event loop waiting for long."""

TAKEN_EVERY_S = 0.01
"""The loop is woken for new bytes no more often: a wake costs as much as some ten lines, and the stamps are made
before it."""


class Chunk(NamedTuple):
    """Bytes that arrived together."""

    data: bytes
    t_ns: int
    """Stamped in the thread where they arrived."""
    lost_before: int = 0
    """Bytes dropped just before these, because the queue was full."""


class ChunkQueue:
    """Filled by a reader thread, emptied by the event loop.

    When it is full the newest bytes are dropped and counted; the next chunk
    handed out tells how many. The loop is woken once for many chunks.
    """

    def __init__(
        self,
        loop: asyncio.AbstractEventLoop,
        max_bytes: int = MAX_QUEUE_BYTES,
        max_chunks: int = MAX_QUEUE_CHUNKS,
    ) -> None:
        self._loop = loop
        self._max_bytes = max_bytes
        self._max_chunks = max_chunks
        self._lock = threading.Lock()
        self._chunks: deque[Chunk] = deque()
        self._bytes = 0
        self._lost = 0
        self._lost_t_ns = 0
        self._end: TransportError | None = None
        self._woken = False
        """Whether the loop will look by itself: it has been woken, or has just taken some."""
        self._next_s = 0.0
        self._ready = asyncio.Event()
        self.bytes_lost = 0
        """Bytes ever dropped."""

    def put(self, data: bytes, t_ns: int) -> None:
        """Hand bytes over; called in the reader thread, never blocks."""
        with self._lock:
            full = self._bytes + len(data) > self._max_bytes or len(self._chunks) >= self._max_chunks
            if full:
                self._lost += len(data)
                self._lost_t_ns = t_ns
                self.bytes_lost += len(data)
            else:
                self._chunks.append(Chunk(data, t_ns, self._lost))
                self._bytes += len(data)
                self._lost = 0
            asleep, self._woken = not self._woken, True
        if asleep:
            self._wake()

    def end(self, error: TransportError) -> None:
        """Nothing more will come; the first ``error`` told is raised once everything before it was taken."""
        with self._lock:
            self._end = self._end or error
            asleep, self._woken = not self._woken, True
        if asleep:
            self._wake()

    @property
    def ending(self) -> TransportError | None:
        """Why nothing more will come; None while the link stands."""
        return self._end

    async def get(self) -> list[Chunk]:
        """Wait for chunks and take the oldest, a bounded part of them; may be cancelled without losing any.

        Raises:
            TransportError: the link has ended and the queue is empty.
        """
        pause_s = self._next_s - self._loop.time()
        if pause_s > 0:
            await asyncio.sleep(pause_s)
        while True:
            taken = self._take()
            if taken:
                self._next_s = self._loop.time() + TAKEN_EVERY_S
                return taken
            if self._end is not None:
                raise self._end
            await self._ready.wait()

    def _take(self) -> list[Chunk]:
        taken: list[Chunk] = []
        size = 0
        with self._lock:
            while self._chunks and (not taken or size + len(self._chunks[0].data) <= MOST_TAKEN_BYTES):
                taken.append(self._chunks.popleft())
                size += len(taken[-1].data)
            self._bytes -= size
            if self._lost and not self._chunks:
                taken.append(Chunk(b"", self._lost_t_ns, self._lost))
                self._lost = 0
            self._woken = bool(taken)
            self._ready.clear()
        return taken

    def _wake(self) -> None:
        try:
            self._loop.call_soon_threadsafe(self._ready.set)
        except RuntimeError:
            # The loop has been closed over a thread that was still opening its port.
            return
