"""An instrument that must be asked: a link and a session that says what to send and when."""

from __future__ import annotations

import asyncio
from typing import Protocol

from daq.driver_api import Clock, Instrument, InstrumentStatus, Quality, Reading, TransportError
from drivers.transports.chunks import Chunk
from drivers.transports.link import SerialLink
from drivers.transports.stream import note_bytes

__all__ = ["AskedInstrument", "AskedSession"]


class AskedSession(Protocol):
    """A conversation, without I/O or clock.

    Attributes:
        awaited: what is being waited for, in words.
        remarks: sentences for the recording; whoever takes them empties the list.
        timeouts: answers that did not come in time.
    """

    awaited: str
    remarks: list[str]
    timeouts: int

    def due_ns(self, now_ns: int) -> int:
        """When :meth:`advance` has something to do, if nothing arrives before."""
        ...

    def advance(self, now_ns: int) -> bytes:
        """What is to be sent now; empty while an answer or the next turn is waited for."""
        ...

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        """Take in bytes and give the readings they complete."""
        ...

    def flush(self) -> list[Reading]:
        """The link has ended: give what an unfinished answer is worth."""
        ...

    def lost(self) -> None:
        """Bytes were dropped on the way."""
        ...


class AskedInstrument(Instrument):
    """Sends what is due, waits for bytes, no longer than the session wants.

    Args:
        link: not yet open.
        session: fresh.
        channels: how many channels the card has; a loss is told on each.
        clock: says when something is due.
    """

    def __init__(self, link: SerialLink, session: AskedSession, channels: int, clock: Clock) -> None:
        self.status = InstrumentStatus(awaited=session.awaited)
        self._link = link
        self._session = session
        self._channels = channels
        self._clock = clock
        self._ended: TransportError | None = None

    async def open(self) -> None:
        await self._link.open()
        self.status.remarks += self._link.remarks

    async def receive(self) -> list[Reading]:
        while True:
            if self._ended is not None:
                raise self._ended
            try:
                readings = await self._turn()
            except TransportError as error:
                self._ended = error
                readings = self._session.flush()
            self._report(readings)
            if readings:
                return readings

    async def _turn(self) -> list[Reading]:
        request = self._session.advance(self._clock.now_ns())
        if request:
            await self._link.write(request)
        now_ns = self._clock.now_ns()
        wait_s = (self._session.due_ns(now_ns) - now_ns) / 1e9
        try:
            # Not wait_for: before Python 3.12 it swallows a cancellation that meets arriving bytes.
            async with asyncio.timeout(max(wait_s, 0.001)):
                chunks = await self._link.receive()
        except TimeoutError:
            return []
        return [reading for chunk in chunks for reading in self._take(chunk)]

    def _take(self, chunk: Chunk) -> list[Reading]:
        note_bytes(self.status, chunk)
        lost: list[Reading] = []
        if chunk.lost_before:
            self._session.lost()
            lost = [Reading(n, chunk.t_ns, None, Quality.LOST) for n in range(self._channels)]
        return lost + self._session.feed(chunk.data, chunk.t_ns)

    def _report(self, readings: list[Reading]) -> None:
        status, session = self.status, self._session
        status.bad_frames += sum(r.quality is Quality.BAD_FRAME for r in readings)
        status.timeouts = session.timeouts
        status.awaited = session.awaited
        status.remarks += session.remarks
        session.remarks.clear()

    async def aclose(self) -> None:
        await self._link.aclose()
