"""An instrument that speaks unasked: a link and a decoder, nothing more."""

from __future__ import annotations

from typing import Protocol

from daq.driver_api import Decoder, Instrument, InstrumentStatus, Quality, Reading, TransportError
from drivers.transports.chunks import Chunk
from drivers.transports.link import SerialLink

__all__ = ["BROKEN_OFF_NS", "QUIET_START_NS", "StreamDecoder", "StreamInstrument", "note_bytes"]

QUIET_START_NS = 50_000_000
"""A line that was quiet this long after opening begins with a whole frame; 48 characters at 9600 baud."""
BROKEN_OFF_NS = 500_000_000
"""Who pauses this long in the middle of a line has most likely begun anew: 15 characters at 300 baud."""
_LAST_BYTES = 64


class StreamDecoder(Decoder, Protocol):
    """A decoder that can be told that the stream starts, or goes on, in the middle of a frame.

    Where it has an attribute ``pause_breaks`` that is true, a pause in the middle of what it
    holds spoils that: two halves of two numbers would else be read as one.
    """

    def resync(self) -> None:
        """Drop what is held and skip up to the next frame's start."""
        ...


def note_bytes(status: InstrumentStatus, chunk: Chunk) -> None:
    """Keep the counts and the newest bytes up to date."""
    status.bytes_received += len(chunk.data)
    status.bytes_lost += chunk.lost_before
    status.last_bytes = (status.last_bytes + chunk.data)[-_LAST_BYTES:]


class StreamInstrument(Instrument):
    """Feeds what arrives into a decoder.

    Args:
        link: not yet open.
        decoder: fresh; sentences in its ``remarks``, if it has such a list, go into the status.
        channels: how many channels the card has; a loss is told on each.
        awaited: what is waited for, in words.
    """

    def __init__(self, link: SerialLink, decoder: StreamDecoder, channels: int, awaited: str) -> None:
        self.status = InstrumentStatus(awaited=awaited)
        self._link = link
        self._decoder = decoder
        self._remarks: list[str] = getattr(decoder, "remarks", [])
        self._channels = channels
        self._pause_breaks: bool = getattr(decoder, "pause_breaks", False)
        self._newest_ns = 0
        self._started = False
        self._ended: TransportError | None = None

    async def open(self) -> None:
        await self._link.open()
        self.status.remarks += self._link.remarks

    async def receive(self) -> list[Reading]:
        while True:
            if self._ended is not None:
                raise self._ended
            try:
                chunks = await self._link.receive()
            except TransportError as error:
                self._ended = error
                readings = self._decoder.flush()
            else:
                readings = [reading for chunk in chunks for reading in self._take(chunk)]
            self.status.remarks += self._remarks
            self._remarks.clear()
            if readings:
                self.status.bad_frames += sum(r.quality is Quality.BAD_FRAME for r in readings)
                return readings

    def _take(self, chunk: Chunk) -> list[Reading]:
        note_bytes(self.status, chunk)
        if not self._started:
            self._started = True
            if chunk.t_ns - self._link.opened_ns < QUIET_START_NS:
                self._decoder.resync()
        readings: list[Reading] = []
        if chunk.lost_before:
            self._decoder.resync()
            readings += [Reading(n, chunk.t_ns, None, Quality.LOST) for n in range(self._channels)]
        elif self._pause_breaks and chunk.t_ns - self._newest_ns > BROKEN_OFF_NS:
            readings += self._broken_off(chunk.data)
        self._newest_ns = chunk.t_ns
        return readings + self._decoder.feed(chunk.data, chunk.t_ns)

    def _broken_off(self, data: bytes) -> list[Reading]:
        """What is held is no frame any more, and neither is what follows up to the next one's start."""
        if data.startswith((b"\r", b"\n")):
            return []  # whole after all; its end stands before the next one
        bad = self._decoder.flush()
        if bad:
            self._decoder.resync()
        return bad

    async def aclose(self) -> None:
        await self._link.aclose()
