"""The ``counter`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import Clock, Driver, Instrument, InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.counter.decoder import CounterDecoder
from drivers.counter.settings import parse_settings

__all__ = ["DRIVER", "CounterDriver"]


class CounterDriver(Driver):
    """Pulse counts with a device time, over a serial port or TCP."""

    name = "counter"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("counter-board")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.transports.link import SerialLink, check_serial_address
        from drivers.transports.stream import StreamInstrument

        settings = parse_settings(card)
        check_serial_address(address)
        link = SerialLink(address, card.transport, clock)
        decoder = CounterDecoder(card.channel[0], card.channel[1], settings)
        example = settings.delimiter.join(settings.fields)
        return StreamInstrument(
            link, decoder, 2, f'a line "{settings.prefix}{example}" of whole numbers, other than the last'
        )


DRIVER = CounterDriver()
