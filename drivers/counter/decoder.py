"""Decoder of protocol ``counter``: count and device time in, cumulative revolutions and seconds out.

Lines carry no check value, so each must go on from the one before::

    goes on       both moved forward (through a wrap or not), no faster than a shaft can
                  turn, and the device time agrees with the arrival times
    restarted     both fell, and the device has run no longer than since its last line:
                  LOST on both channels, then the count starts anew
    anything else one BAD_FRAME; if the next line goes on from *that* one, it was no
                  garbled digit but a jump: LOST on both channels, and anew from there

Both values fall at a new start; that is how those who follow see it.
"""

from __future__ import annotations

from typing import NamedTuple

from daq.driver_api import ChannelCard, Quality, Reading
from drivers.counter.settings import CounterSettings
from drivers.lines import LineSplitter
from drivers.wrapping import steps_forward

__all__ = ["CounterDecoder"]

_MOST_DIGITS = 20
_CLOCK_SLACK_S = 3.0
"""Lines may lie in buffers for this long before they arrive."""
_CLOCK_SLACK_SHARE = 0.05
"""A ceramic resonator is off by a percent or two at worst (common practice, no source)."""
_SLACK_COUNTS = 2
_MOST_REMARKS = 20
"""That wait to be taken."""


class _Sample(NamedTuple):
    pulses: int
    ticks: int
    t_ns: int


class _Place(NamedTuple):
    """A sample, and what has been counted up to it since the last start."""

    sample: _Sample
    counts: int
    ticks: int


class CounterDecoder:
    """Two readings a line: revolutions on channel 0, device time on channel 1, with one stamp.

    A line that repeats the one before gives none: boards that stamp their
    newest mark send it again and again while the shaft stands.
    """

    pause_breaks = True

    def __init__(self, revolutions: ChannelCard, device_time: ChannelCard, settings: CounterSettings) -> None:
        self.max_frame = settings.max_line
        self._settings = settings
        self._delimiter = settings.delimiter.encode("ascii")
        self._prefix = settings.prefix.encode("ascii")
        self._count_at = settings.fields.index("count")
        self._time_at = settings.fields.index("time")
        self._marks = revolutions.marks_per_revolution or 1
        self._revolutions, self._device_time = revolutions, device_time
        self._lines = LineSplitter(settings.max_line)
        self._last: _Place | None = None
        self._doubtful: _Sample | None = None
        self._t_ns = 0
        self.remarks: list[str] = []
        """Sentences for the recording; whoever takes them empties the list."""

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        self._t_ns = t_ns
        readings: list[Reading] = []
        for line in self._lines.feed(data):
            text = line.data.strip()
            if not line.whole:
                readings.append(Reading(0, t_ns, None, Quality.BAD_FRAME))
            elif text.startswith(self._prefix) and text:
                readings += self._line(text[len(self._prefix) :], t_ns)
        return readings

    def flush(self) -> list[Reading]:
        if self._lines.flush().strip():
            return [Reading(0, self._t_ns, None, Quality.BAD_FRAME)]
        return []

    def resync(self) -> None:
        """Skip up to the next line end; the count itself goes on."""
        self._lines.resync()

    def _line(self, text: bytes, t_ns: int) -> list[Reading]:
        sample = self._parse(text, t_ns)
        if sample is None:
            return [Reading(0, t_ns, None, Quality.BAD_FRAME)]
        last = self._last
        if last is None:
            return self._start(sample)
        if sample[:2] == last.sample[:2]:
            # No further mark has passed, which is no new reading. The first arrival is kept: the next
            # mark's time is counted from there.
            return []
        if self._goes_on(last.sample, sample):
            return self._go_on(last, sample)
        if self._restarted(last.sample, sample):
            self._remark("The board started anew: its count and its time begin again.")
            return self._lost(t_ns) + self._start(sample)
        doubtful, self._doubtful = self._doubtful, sample
        if doubtful is not None and self._goes_on(doubtful, sample):
            start = _Place(doubtful, doubtful.pulses, doubtful.ticks)
            self._remark("Count and time of the board jumped: they are followed from there on.")
            return self._lost(t_ns) + self._go_on(start, sample)
        return [Reading(0, t_ns, None, Quality.BAD_FRAME)]

    def _parse(self, text: bytes, t_ns: int) -> _Sample | None:
        fields = text.split(self._delimiter)
        if len(fields) != len(self._settings.fields):
            return None
        count, ticks = fields[self._count_at].strip(), fields[self._time_at].strip()
        if not (count.isdigit() and ticks.isdigit()) or max(len(count), len(ticks)) > _MOST_DIGITS:
            return None
        sample = _Sample(int(count), int(ticks), t_ns)
        if sample.pulses >> self._settings.count_bits or sample.ticks >> self._settings.time_bits:
            return None
        return sample

    def _goes_on(self, before: _Sample, after: _Sample) -> bool:
        settings = self._settings
        gone_s = steps_forward(before.ticks, after.ticks, settings.time_bits) / settings.ticks_a_second
        arrived_s = (after.t_ns - before.t_ns) / 1e9
        # A silence longer than a whole wrap of the device time leaves it open how often it wrapped.
        if abs(gone_s - arrived_s) > _CLOCK_SLACK_S + _CLOCK_SLACK_SHARE * arrived_s:
            return False
        counted = steps_forward(before.pulses, after.pulses, settings.count_bits)
        return counted <= settings.most_rpm / 60.0 * self._marks * gone_s + _SLACK_COUNTS

    def _restarted(self, before: _Sample, after: _Sample) -> bool:
        if after.pulses > before.pulses or after.ticks >= before.ticks:
            return False
        ran_s = after.ticks / self._settings.ticks_a_second
        arrived_s = (after.t_ns - before.t_ns) / 1e9
        return ran_s <= arrived_s * (1.0 + _CLOCK_SLACK_SHARE) + _CLOCK_SLACK_S

    def _start(self, sample: _Sample) -> list[Reading]:
        return self._at(_Place(sample, sample.pulses, sample.ticks))

    def _go_on(self, last: _Place, sample: _Sample) -> list[Reading]:
        settings = self._settings
        counted = steps_forward(last.sample.pulses, sample.pulses, settings.count_bits)
        ticked = steps_forward(last.sample.ticks, sample.ticks, settings.time_bits)
        return self._at(_Place(sample, last.counts + counted, last.ticks + ticked))

    def _at(self, place: _Place) -> list[Reading]:
        self._last, self._doubtful = place, None
        r, d = self._revolutions, self._device_time
        t_ns = place.sample.t_ns
        return [
            Reading(0, t_ns, place.counts / self._marks * r.scale + r.offset),
            Reading(1, t_ns, place.ticks / self._settings.ticks_a_second * d.scale + d.offset),
        ]

    def _remark(self, sentence: str) -> None:
        if len(self.remarks) < _MOST_REMARKS:
            self.remarks.append(sentence)

    def _lost(self, t_ns: int) -> list[Reading]:
        return [Reading(0, t_ns, None, Quality.LOST), Reading(1, t_ns, None, Quality.LOST)]
