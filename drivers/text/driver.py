"""The ``text`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import Clock, Driver, Instrument, InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.text.decoder import make_decoder
from drivers.text.settings import parse_settings

__all__ = ["DRIVER", "TextDriver"]


class TextDriver(Driver):
    """Lines with numbers, over a serial port or TCP."""

    name = "text"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("text-volts", "text-speed", "text-pair", "bench-tach")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.transports.link import SerialLink, check_serial_address
        from drivers.transports.stream import StreamInstrument

        settings = parse_settings(card)
        check_serial_address(address)
        link = SerialLink(address, card.transport, clock)
        due = ", ".join(channel.quantity.value.replace("_", " ") for channel in card.channel)
        what = "a number" if len(card.channel) == 1 else f"{len(card.channel)} numbers"
        decoder = make_decoder(card.channel, settings)
        return StreamInstrument(link, decoder, len(card.channel), f"a line with {what} ({due})")


DRIVER = TextDriver()
