"""The ``frame`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import Clock, Driver, Instrument, InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.frame.decoder import FrameDecoder
from drivers.frame.described import DescribedLayout
from drivers.frame.segments import SegmentLayout
from drivers.frame.settings import DescribedFrame, parse_settings

__all__ = ["DRIVER", "FrameDriver"]


class FrameDriver(Driver):
    """Binary frames of fixed length, over a serial port or TCP."""

    name = "frame"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("segment-meter", "frame-speed")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.transports.link import SerialLink, check_serial_address
        from drivers.transports.stream import StreamInstrument

        settings = parse_settings(card)
        check_serial_address(address)
        link = SerialLink(address, card.transport, clock)
        if isinstance(settings, DescribedFrame):
            awaited = f"a frame of {settings.length} bytes that begins with {settings.sync}"
            decoder = FrameDecoder(DescribedLayout(card.channel, settings))
        else:
            awaited = "a frame of 14 bytes with its display's segments"
            decoder = FrameDecoder(SegmentLayout(card.channel[0], settings))
        return StreamInstrument(link, decoder, len(card.channel), awaited)


DRIVER = FrameDriver()
