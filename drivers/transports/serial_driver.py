"""What all drivers on a serial port or a network address have in common: finding ports, listening to one."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Sequence
from typing import TYPE_CHECKING

from daq.driver_api import (
    Clock,
    Driver,
    FoundInstrument,
    Instrument,
    InstrumentCard,
    Tap,
    TransportDefaults,
)

if TYPE_CHECKING:
    from drivers.transports.stream import StreamDecoder

__all__ = ["SerialDriver", "SpeakingDriver"]

_OF_THE_BENCH = "bench-"
"""Cards of the virtual bench, which hangs on no port that could be found."""


class SerialDriver(Driver):
    """An instrument on a serial port or behind a network address."""

    async def discover(self, seconds: float) -> Sequence[FoundInstrument]:
        """Every serial port: a port does not tell what hangs on it, so all cards could fit."""
        from drivers.transports.ports import found_ports

        names = [card.name for card in self.cards()]
        return found_ports([name for name in names if not name.startswith(_OF_THE_BENCH)])

    def tap(self, address: str, line: TransportDefaults, clock: Clock) -> Tap:
        from drivers.transports.tap import SerialTap

        return SerialTap(address, line, clock)


class SpeakingDriver(SerialDriver):
    """An instrument that speaks unasked: a link and a decoder, nothing more."""

    @abstractmethod
    def decoder(self, card: InstrumentCard) -> StreamDecoder:
        """A fresh decoder."""

    @abstractmethod
    def awaited(self, card: InstrumentCard) -> str:
        """What is waited for, in words."""

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.transports.link import SerialLink
        from drivers.transports.serial_address import check_serial_address
        from drivers.transports.stream import StreamInstrument

        decoder, awaited = self.decoder(card), self.awaited(card)
        check_serial_address(address)
        return StreamInstrument(
            SerialLink(address, card.transport, clock), decoder, len(card.channel), awaited
        )
