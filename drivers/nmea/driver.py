"""The ``nmea`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import Clock, Driver, Instrument, InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.nmea.settings import parse_settings

__all__ = ["DRIVER", "NmeaDriver"]


class NmeaDriver(Driver):
    """NMEA 0183 over a serial port or TCP."""

    name = "nmea"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("nmea-engine")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.nmea.decoder import NmeaDecoder
        from drivers.transports.link import SerialLink, check_serial_address
        from drivers.transports.stream import StreamInstrument

        settings = parse_settings(card)
        check_serial_address(address)
        sentences = " or ".join(sorted({value.sentence for value in settings.value}))
        return StreamInstrument(
            SerialLink(address, card.transport, clock),
            NmeaDecoder(card.channel, settings),
            len(card.channel),
            f"an NMEA 0183 sentence {sentences} with a checksum",
        )


DRIVER = NmeaDriver()
