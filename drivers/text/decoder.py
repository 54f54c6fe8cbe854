"""Decoder of protocol ``text`` for one number a line, and the choice between that and columns."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import ChannelCard, Quality, Reading
from drivers.lines import LineSplitter
from drivers.text.columns import ColumnsDecoder
from drivers.text.line import judge_line
from drivers.text.settings import FIRST_NUMBER, TextSettings

__all__ = ["TextDecoder", "make_decoder"]


def make_decoder(channels: Sequence[ChannelCard], settings: TextSettings) -> TextDecoder | ColumnsDecoder:
    """The decoder that a card's settings ask for.

    Args:
        channels: the card's.
        settings: checked by :func:`drivers.text.settings.parse_settings`.
    """
    if settings.pattern == FIRST_NUMBER and not settings.delimiter and not settings.keys:
        return TextDecoder(channels[0], settings)
    return ColumnsDecoder(channels, settings)


class TextDecoder:
    """One channel, one number a line.

    The stamp of a reading is that of the bytes which ended its line.
    """

    pause_breaks = True

    def __init__(self, channel: ChannelCard, settings: TextSettings) -> None:
        self.max_frame = settings.max_line
        self._channel = channel
        self._settings = settings
        self._lines = LineSplitter(settings.max_line)
        self._t_ns = 0

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        self._t_ns = t_ns
        return [
            self._reading(line.data, t_ns) if line.whole else Reading(0, t_ns, None, Quality.BAD_FRAME)
            for line in self._lines.feed(data)
            if line.data.strip() or not line.whole
        ]

    def flush(self) -> list[Reading]:
        if self._lines.flush().strip():
            return [Reading(0, self._t_ns, None, Quality.BAD_FRAME)]
        return []

    def resync(self) -> None:
        """Skip up to the next line end: what comes next may be the rest of a line, and a wrong number."""
        self._lines.resync()

    def _reading(self, line: bytes, t_ns: int) -> Reading:
        value, quality = judge_line(line, self._channel.quantity, self._settings)
        if value is not None:
            value = value * self._channel.scale + self._channel.offset
        return Reading(0, t_ns, value, quality)
