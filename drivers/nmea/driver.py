"""The ``nmea`` plugin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from daq.driver_api import InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.nmea.settings import parse_settings
from drivers.transports.serial_driver import SpeakingDriver

if TYPE_CHECKING:
    from drivers.nmea.decoder import NmeaDecoder

__all__ = ["DRIVER", "NmeaDriver"]


class NmeaDriver(SpeakingDriver):
    """NMEA 0183 over a serial port or TCP."""

    name = "nmea"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("nmea-engine")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def decoder(self, card: InstrumentCard) -> NmeaDecoder:
        from drivers.nmea.decoder import NmeaDecoder

        return NmeaDecoder(card.channel, parse_settings(card))

    def awaited(self, card: InstrumentCard) -> str:
        sentences = " or ".join(sorted({value.sentence for value in parse_settings(card).value}))
        return f"an NMEA 0183 sentence {sentences} with a checksum"


DRIVER = NmeaDriver()
