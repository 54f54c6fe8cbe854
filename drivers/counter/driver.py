"""The ``counter`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.counter.decoder import CounterDecoder
from drivers.counter.settings import parse_settings
from drivers.transports.serial_driver import SpeakingDriver

__all__ = ["DRIVER", "CounterDriver"]


class CounterDriver(SpeakingDriver):
    """Pulse counts with a device time, over a serial port or TCP."""

    name = "counter"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("counter-board")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def decoder(self, card: InstrumentCard) -> CounterDecoder:
        return CounterDecoder(card.channel[0], card.channel[1], parse_settings(card))

    def awaited(self, card: InstrumentCard) -> str:
        settings = parse_settings(card)
        example = settings.delimiter.join(settings.fields)
        return f'a line "{settings.prefix}{example}" of whole numbers, other than the last'


DRIVER = CounterDriver()
