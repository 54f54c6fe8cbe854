"""The ``scpi`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import Clock, Instrument, InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.scpi.session import ScpiSession
from drivers.scpi.settings import parse_settings
from drivers.transports.serial_driver import SerialDriver

__all__ = ["DRIVER", "ScpiDriver"]


_CARDS = (
    "scpi-meter",
    "scpi-dc-volts",
    "scpi-amps",
    "scpi-ohms",
    "bench-meter",
    "bench-dc-volts",
    "bench-amps",
    "bench-ohms",
)


class ScpiDriver(SerialDriver):
    """SCPI over a serial port or TCP."""

    name = "scpi"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards(*_CARDS)

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.transports.asked import AskedInstrument
        from drivers.transports.link import SerialLink
        from drivers.transports.serial_address import check_serial_address

        settings = parse_settings(card)
        check_serial_address(address)
        link = SerialLink(address, card.transport, clock)
        return AskedInstrument(link, ScpiSession(card.channel[0], settings), 1, clock)


DRIVER = ScpiDriver()
