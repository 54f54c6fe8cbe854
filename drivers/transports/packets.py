"""The bounded queue between a notification callback and whoever reads; both live in the event loop."""

from __future__ import annotations

import asyncio
from collections import deque
from typing import NamedTuple

from daq.driver_api import TransportError

__all__ = ["LONGEST_PACKET", "MOST_PACKETS", "Packet", "PacketQueue"]

MOST_PACKETS = 4096
"""More than a minute at 50 packets a second."""
LONGEST_PACKET = 512
"""Longest attribute value (Bluetooth Core specification, volume 3, part F, 3.2.9)."""


class Packet(NamedTuple):
    """One notification."""

    source: int
    """Which subscription it belongs to."""
    data: bytes
    t_ns: int
    """Stamped in the callback."""
    lost_before: int = 0
    """Packets dropped just before this one, because the queue was full."""
    bytes_lost_before: int = 0


class PacketQueue:
    """Filled by callbacks, emptied by one reader.

    When it is full the newest packets are dropped and counted; the next one
    handed out tells how many.
    """

    def __init__(self, most_packets: int = MOST_PACKETS) -> None:
        self._most = most_packets
        self._packets: deque[Packet] = deque()
        self._lost = 0
        self._bytes_lost = 0
        self._end: TransportError | None = None
        self._ready = asyncio.Event()
        self.packets_lost = 0
        """Packets ever dropped."""

    def put(self, source: int, data: bytes, t_ns: int) -> None:
        """Hand a packet over; never blocks. What no radio can send is cut, so that it can't fill the memory."""
        if len(self._packets) >= self._most:
            self._lost += 1
            self._bytes_lost += len(data)
            self.packets_lost += 1
        else:
            data = data[: LONGEST_PACKET + 1]
            self._packets.append(Packet(source, data, t_ns, self._lost, self._bytes_lost))
            self._lost = self._bytes_lost = 0
        self._ready.set()

    def end(self, error: TransportError) -> None:
        """Nothing more will come; the first error counts and is raised once everything before it was taken."""
        self._end = self._end or error
        self._ready.set()

    def take(self) -> list[Packet]:
        """Take all there are; empty where there are none.

        Raises:
            TransportError: the link has ended and the queue is empty.
        """
        taken = list(self._packets)
        self._packets.clear()
        self._ready.clear()
        if not taken and self._end is not None:
            raise self._end
        return taken

    async def wait(self) -> None:
        """Wait until :meth:`take` has something to give or to raise."""
        if self._end is None:
            await self._ready.wait()
