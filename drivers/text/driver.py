"""The ``text`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import Clock, Driver, Instrument, InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.text.decoder import TextDecoder
from drivers.text.settings import parse_settings

__all__ = ["DRIVER", "TextDriver"]


class TextDriver(Driver):
    """Lines with a number, over a serial port or TCP."""

    name = "text"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("text-volts", "text-speed", "bench-tach")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.transports.link import SerialLink, check_serial_address
        from drivers.transports.stream import StreamInstrument

        settings = parse_settings(card)
        check_serial_address(address)
        link = SerialLink(address, card.transport, clock)
        decoder = TextDecoder(card.channel[0], settings)
        due = card.channel[0].quantity.value.replace("_", " ")
        return StreamInstrument(link, decoder, 1, f"a line with a number ({due})")


DRIVER = TextDriver()
