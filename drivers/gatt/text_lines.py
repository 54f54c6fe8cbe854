"""Decoder of text lines that come over notifications."""

from __future__ import annotations

import msgspec

from daq.driver_api import InstrumentCard, Reading
from drivers.gatt.settings import GattText
from drivers.text.decoder import make_decoder
from drivers.text.settings import parse_settings

__all__ = ["TextPacketsDecoder", "check_text"]


def _as_text_card(card: InstrumentCard, text: GattText) -> InstrumentCard:
    return msgspec.structs.replace(card, protocol="text", settings=text.settings)


def check_text(card: InstrumentCard, text: GattText) -> None:
    """Check the settings of the lines.

    Raises:
        CardError: naming the key.
    """
    parse_settings(_as_text_card(card, text))


class TextPacketsDecoder:
    """Hands packets to the decoder of protocol ``text``.

    Lines that are cut over packets are only trusted after the first line end:
    what comes right after subscribing may be the tail of a line, and "600" the
    tail of "3600".
    """

    def __init__(self, card: InstrumentCard, text: GattText) -> None:
        self._lines = make_decoder(card.channel, parse_settings(_as_text_card(card, text)))
        self._end = b"\n" if text.packets == "lines" else b""
        self.max_frame = self._lines.max_frame
        self.needs = "a line of text with a number"
        self.awaited = "a line of text"
        if not self._end:
            self._lines.resync()

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        return self._lines.feed(data + self._end, t_ns)

    def flush(self) -> list[Reading]:
        return self._lines.flush()

    def resync(self) -> None:
        """Packets were lost: skip up to the next line end, unless each packet is a line of its own."""
        if not self._end:
            self._lines.resync()
