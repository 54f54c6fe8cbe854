"""Decoder of protocol ``text`` for lines with several values, or with one at a place that the card names."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import ChannelCard, Quality, Quantity, Reading
from drivers.lines import LineSplitter
from drivers.text.fields import Field, splitter_for
from drivers.text.line import judge_line, judge_number
from drivers.text.settings import TextSettings
from drivers.wrapping import steps_forward

__all__ = ["ColumnsDecoder"]


class ColumnsDecoder:
    """One reading for each channel that a line speaks of, all with one stamp: that of the bytes which ended it."""

    pause_breaks = True

    def __init__(self, channels: Sequence[ChannelCard], settings: TextSettings) -> None:
        self.max_frame = settings.max_line
        self._channels = channels
        self._settings = settings
        self._split = splitter_for(settings, len(channels))
        self._pass_over = settings.pass_over.encode("utf-8")
        self._lines = LineSplitter(settings.max_line)
        self._clock = None if settings.time_bits is None else _WrappingClock(settings.time_bits)
        self._t_ns = 0

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        self._t_ns = t_ns
        readings: list[Reading] = []
        for line in self._lines.feed(data):
            text = line.data.strip()
            if not line.whole:
                readings.append(Reading(0, t_ns, None, Quality.BAD_FRAME))
            elif text and not (self._pass_over and text.startswith(self._pass_over)):
                readings += self._line(text, t_ns)
        return readings

    def flush(self) -> list[Reading]:
        if self._lines.flush().strip():
            return [Reading(0, self._t_ns, None, Quality.BAD_FRAME)]
        return []

    def resync(self) -> None:
        """Skip up to the next line end: what comes next may be the rest of a line, and a wrong number."""
        self._lines.resync()

    def _line(self, text: bytes, t_ns: int) -> list[Reading]:
        fields = self._split(text)
        if fields is None:
            return [Reading(0, t_ns, None, Quality.BAD_FRAME)]
        return [self._reading(index, field, t_ns) for index, field in enumerate(fields) if field is not None]

    def _reading(self, index: int, field: Field, t_ns: int) -> Reading:
        channel = self._channels[index]
        value, quality = self._judge(field, channel.quantity)
        if value is not None:
            if self._clock is not None and channel.quantity is Quantity.DEVICE_TIME:
                value = self._clock.unwrapped(value)
            value = value * channel.scale + channel.offset
        return Reading(index, t_ns, value, quality)

    def _judge(self, field: Field, quantity: Quantity) -> tuple[float | None, Quality]:
        if isinstance(field, bytes):
            return judge_line(field, quantity, self._settings) if field.strip() else (None, Quality.BLANK)
        return (None, Quality.BAD_FRAME) if field is None else judge_number(field)


class _WrappingClock:
    """A device time that starts again from 0; a fall that is no wrap is a new start of the device."""

    def __init__(self, bits: int) -> None:
        self._bits = bits
        self._last: float | None = None
        self._rounds = 0

    def unwrapped(self, ticks: float) -> float:
        last, self._last = self._last, ticks
        if last is not None and ticks < last:
            small_step = steps_forward(round(last), round(ticks), self._bits) < 1 << (self._bits - 1)
            self._rounds = self._rounds + 1 if small_step else 0
        return ticks + self._rounds * float(1 << self._bits)
