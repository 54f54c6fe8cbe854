"""The ``text`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.text.columns import ColumnsDecoder
from drivers.text.decoder import TextDecoder, make_decoder
from drivers.text.settings import parse_settings
from drivers.transports.serial_driver import SpeakingDriver

__all__ = ["DRIVER", "TextDriver"]


class TextDriver(SpeakingDriver):
    """Lines with numbers, over a serial port or TCP."""

    name = "text"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("text-volts", "text-speed", "text-pair", "bench-tach")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def decoder(self, card: InstrumentCard) -> TextDecoder | ColumnsDecoder:
        return make_decoder(card.channel, parse_settings(card))

    def awaited(self, card: InstrumentCard) -> str:
        due = ", ".join(channel.quantity.value.replace("_", " ") for channel in card.channel)
        what = "a number" if len(card.channel) == 1 else f"{len(card.channel)} numbers"
        return f"a line with {what} ({due})"


DRIVER = TextDriver()
