"""The ``frame`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.frame.decoder import FrameDecoder
from drivers.frame.described import DescribedLayout
from drivers.frame.segments import SegmentLayout
from drivers.frame.settings import DescribedFrame, parse_settings
from drivers.transports.serial_driver import SpeakingDriver

__all__ = ["DRIVER", "FrameDriver"]


class FrameDriver(SpeakingDriver):
    """Binary frames of fixed length, over a serial port or TCP."""

    name = "frame"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("segment-meter", "frame-speed")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def decoder(self, card: InstrumentCard) -> FrameDecoder:
        settings = parse_settings(card)
        if isinstance(settings, DescribedFrame):
            return FrameDecoder(DescribedLayout(card.channel, settings))
        return FrameDecoder(SegmentLayout(card.channel[0], settings))

    def awaited(self, card: InstrumentCard) -> str:
        settings = parse_settings(card)
        if isinstance(settings, DescribedFrame):
            return f"a frame of {settings.length} bytes that begins with {settings.sync}"
        return "a frame of 14 bytes with its display's segments"


DRIVER = FrameDriver()
