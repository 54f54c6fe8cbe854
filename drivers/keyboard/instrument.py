"""The keyboard as an instrument: lines come in by :meth:`typed`, so there is nothing to read from."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

from daq.driver_api import (
    ChannelCard,
    Instrument,
    InstrumentStatus,
    Quality,
    Reading,
    TransportError,
    TransportReason,
)
from drivers.keyboard.line import read_typed, what_to_type

__all__ = ["KeyboardInstrument"]

_MOST_REMARKS = 50
_LAST_BYTES = 64


class KeyboardInstrument(Instrument):
    """Takes typed lines; the capture passes them on as they come from the person.

    :meth:`typed` gives a line's readings at once, with the stamp that it was
    handed; :meth:`receive` has nothing of its own to give and waits for the end.
    """

    def __init__(self, channels: Sequence[ChannelCard]) -> None:
        self.status = InstrumentStatus(awaited=f"a typed line: {what_to_type(channels)}")
        self._channels = channels
        self._closed = asyncio.Event()

    async def open(self) -> None:
        return

    def typed(self, line: str, t_ns: int) -> list[Reading]:
        data = line.encode("utf-8", "replace")
        self.status.bytes_received += len(data)
        self.status.last_bytes = data[-_LAST_BYTES:]
        readings, remark = read_typed(line, self._channels, t_ns)
        if remark and len(self.status.remarks) < _MOST_REMARKS:
            self.status.remarks.append(remark)
        self.status.bad_frames += sum(r.quality is Quality.BAD_FRAME for r in readings)
        return readings

    async def receive(self) -> list[Reading]:
        await self._closed.wait()
        raise TransportError("The keyboard was closed.", reason=TransportReason.LINK_LOST, address="keyboard")

    async def aclose(self) -> None:
        self._closed.set()
