"""A serial port or network address that is only listened to."""

from __future__ import annotations

from daq.driver_api import Clock, TransportDefaults, TransportError, TransportReason
from drivers.transports.chunks import Chunk
from drivers.transports.faults import in_use
from drivers.transports.holders import port_holder
from drivers.transports.link import SerialLink
from drivers.transports.serial_address import check_serial_address

__all__ = ["SerialTap"]


class SerialTap:
    """Opens a line, hands out what comes, never sends. A port that another program has is not even opened."""

    def __init__(self, address: str, line: TransportDefaults, clock: Clock) -> None:
        check_serial_address(address)
        self._address = address
        self._link = SerialLink(address, line, clock)

    async def open(self) -> None:
        holder = port_holder(self._address)
        if holder:
            raise TransportError(
                in_use(self._address, holder), reason=TransportReason.BUSY, address=self._address
            )
        await self._link.open()

    async def receive(self) -> list[Chunk]:
        return await self._link.receive()

    async def aclose(self) -> None:
        await self._link.aclose()
