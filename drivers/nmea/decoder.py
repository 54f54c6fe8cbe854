"""Decoder of protocol ``nmea``. Sentences are taken apart by pynmea2; which of them count is the card's matter.

A sentence without a checksum is refused like one with a wrong one: a digit
that flipped on a long cable would otherwise pass for a reading.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from pynmea2 import NMEASentence, ParseError
from pynmea2.types.talker import RPM, XDR

from daq.driver_api import ChannelCard, Quality, Reading
from drivers.lines import LineSplitter
from drivers.nmea.settings import TRANSDUCERS, NmeaSettings, NmeaValue

__all__ = ["NmeaDecoder"]

_FRAMED = re.compile(r"[$!]([ -)+-~]*)\*([0-9A-Fa-f]{2})")
_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,15}(?:\.[0-9]{0,15})?|\.[0-9]{1,15})")


class NmeaDecoder:
    """Sentences in, readings out; sentences that no channel wants are let pass once their checksum is right.

    Where the card names no engine or transducer, the first one seen is kept
    to, so that two of them never mix in one channel.
    """

    def __init__(self, channels: Sequence[ChannelCard], settings: NmeaSettings) -> None:
        self.max_frame = settings.max_sentence
        self._wanted = list(zip(range(len(channels)), channels, settings.value, strict=True))
        self._lines = LineSplitter(settings.max_sentence)
        self._kept: dict[int, str] = {}
        self._t_ns = 0

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        self._t_ns = t_ns
        readings: list[Reading] = []
        for line in self._lines.feed(data):
            if not line.whole:
                readings.append(Reading(0, t_ns, None, Quality.BAD_FRAME))
            elif line.data.strip():
                readings += self._sentence(line.data, t_ns)
        return readings

    def flush(self) -> list[Reading]:
        if self._lines.flush().strip():
            return [Reading(0, self._t_ns, None, Quality.BAD_FRAME)]
        return []

    def resync(self) -> None:
        """Skip up to the next line end."""
        self._lines.resync()

    def _sentence(self, line: bytes, t_ns: int) -> list[Reading]:
        bad = [Reading(0, t_ns, None, Quality.BAD_FRAME)]
        text = line.decode("latin-1").strip()
        framed = _FRAMED.fullmatch(text)
        if framed is None or NMEASentence.checksum(framed[1]) != int(framed[2], 16):
            return bad
        if text[3:7] not in ("RPM,", "XDR,"):
            return []
        try:
            sentence = NMEASentence.parse(text, check=True)
        except ParseError:
            return bad
        if isinstance(sentence, RPM):
            return self._rpm(sentence, t_ns)
        return self._xdr(sentence, t_ns) if isinstance(sentence, XDR) else bad

    def _rpm(self, sentence: RPM, t_ns: int) -> list[Reading]:
        # source, number, speed, pitch, status; pynmea2's own conversions would turn "nan" into a number.
        source, number, speed, _, status = (*sentence.data, "", "", "", "", "")[:5]
        readings: list[Reading] = []
        for index, channel, value in self._wanted:
            if value.sentence != "RPM" or value.source != source or not _spoken_by(sentence, value):
                continue
            named = None if value.number is None else str(value.number)
            if not self._keeps_to(index, named, number.lstrip("0") or "0"):
                continue
            if status != "A":
                # The standard says A for valid, V for not valid. Anything else is not a yes.
                readings.append(Reading(index, t_ns, None, Quality.NOT_A_NUMBER))
            else:
                readings.append(_reading(index, channel, t_ns, speed, signed=value.signed))
        return readings

    def _xdr(self, sentence: XDR, t_ns: int) -> list[Reading]:
        if not sentence.data or len(sentence.data) % 4:
            return [Reading(0, t_ns, None, Quality.BAD_FRAME)]
        groups = [sentence.get_transducer(i) for i in range(sentence.num_transducers)]
        readings: list[Reading] = []
        for index, channel, value in self._wanted:
            if value.type is None or not _spoken_by(sentence, value):
                continue
            unit = TRANSDUCERS[value.type][0]
            for group in groups:
                if group.type != value.type or not self._keeps_to(index, value.transducer, group.id):
                    continue
                if unit and group.units != unit:
                    readings.append(Reading(index, t_ns, None, Quality.WRONG_FUNCTION))
                else:
                    readings.append(_reading(index, channel, t_ns, group.value, signed=True))
        return readings

    def _keeps_to(self, index: int, named: str | None, came: str) -> bool:
        if named is not None:
            return named == came
        return self._kept.setdefault(index, came) == came


def _spoken_by(sentence: RPM | XDR, value: NmeaValue) -> bool:
    return value.talker is None or sentence.talker == value.talker


def _reading(index: int, channel: ChannelCard, t_ns: int, text: str, *, signed: bool) -> Reading:
    if not text:
        return Reading(index, t_ns, None, Quality.NOT_A_NUMBER)
    if _NUMBER.fullmatch(text) is None:
        return Reading(index, t_ns, None, Quality.BAD_FRAME)
    number = float(text)
    value = (number if signed else math.fabs(number)) * channel.scale + channel.offset
    return Reading(index, t_ns, value)
