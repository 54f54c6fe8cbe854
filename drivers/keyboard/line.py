"""One typed line into readings. Pure; a line that is not understood is given back in words.

Numbers stand in the order of the card's channels, with a space, a tab, ``;``
or ``/`` between them: ``19.6 3580``. A unit may follow a number. ``-`` stands
for a channel that was not read, ``OL`` for a display that shows overload.

The decimal sign may be a point or a comma, one of them in a line. ``3,580``
is refused: it is 3580 to some and 3.58 to others.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from daq.driver_api import ChannelCard, Quality, Quantity, Reading

__all__ = ["Typed", "read_typed", "what_to_type"]

MAX_LINE = 200
_BETWEEN = re.compile(r"[\s;/]+")
_TOKEN = re.compile(r"([+-]?(?:\d{1,12}(?:[.,]\d{0,12})?|[.,]\d{1,12}))([^\d.,]{0,12})")
_AMBIGUOUS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}(?!\d)")
_OVERLOAD = {"ol", "0l", "overload", "over"}
_NOT_READ = {"-", "--", "---"}
_LIMIT = {
    # What hand instruments can show at all (common practice, no source); catches values in the wrong order.
    Quantity.AC_VOLTAGE: 1000.0,
    Quantity.DC_VOLTAGE: 1000.0,
    Quantity.ROTATIONAL_SPEED: 30_000.0,
}
_UNIT_WORDS: dict[Quantity, frozenset[str]] = {
    Quantity.AC_VOLTAGE: frozenset({"v", "volt", "volts", "vac", "v~"}),
    Quantity.DC_VOLTAGE: frozenset({"v", "volt", "volts", "vdc"}),
    Quantity.DC_CURRENT: frozenset({"a", "amp", "amps"}),
    Quantity.RESISTANCE: frozenset({"ohm", "ohms", "ω"}),
    Quantity.FREQUENCY: frozenset({"hz"}),
    Quantity.ROTATIONAL_SPEED: frozenset({"rpm", "r/min", "1/min"}),
    Quantity.TEMPERATURE: frozenset({"c", "°c", "degc"}),
}
_EXAMPLE = {
    Quantity.AC_VOLTAGE: ("AC volts", "19.6"),
    Quantity.DC_VOLTAGE: ("DC volts", "13.8"),
    Quantity.DC_CURRENT: ("amperes", "2.4"),
    Quantity.RESISTANCE: ("ohms", "0.7"),
    Quantity.FREQUENCY: ("hertz", "300"),
    Quantity.ROTATIONAL_SPEED: ("rpm", "3580"),
    Quantity.TEMPERATURE: ("degrees Celsius", "41"),
}


class Typed(NamedTuple):
    """What a line is worth."""

    readings: list[Reading]
    remark: str
    """Why it was not taken; empty when it was."""


class _Refused(Exception):  # noqa: N818 - carries the reason to the one place that turns it into a remark
    pass


def what_to_type(channels: Sequence[ChannelCard]) -> str:
    """The line that is due, in words and by example."""
    named = [_EXAMPLE.get(c.quantity, (c.quantity.value.replace("_", " "), "1")) for c in channels]
    words = ", then ".join(words for words, _ in named)
    return f"{words}, such as {' '.join(value for _, value in named)}"


def read_typed(line: str, channels: Sequence[ChannelCard], t_ns: int) -> Typed:
    """Read one line.

    Args:
        line: as typed, with or without its end.
        channels: the card's, in the order in which their values are due.
        t_ns: when the line was finished; all its readings carry it.
    """
    text = " ".join(line.split())
    if not text:
        return Typed([], "")
    try:
        return Typed(_readings(text, channels, t_ns), "")
    except _Refused as refused:
        shown = text if len(text) <= 60 else text[:57] + "..."
        remark = f"“{shown}” was not taken: {refused}. Type {what_to_type(channels)}."
        return Typed([Reading(0, t_ns, None, Quality.BAD_FRAME)], remark)


def _readings(text: str, channels: Sequence[ChannelCard], t_ns: int) -> list[Reading]:
    if len(text) > MAX_LINE:
        raise _Refused("it is far too long")
    tokens = _without_unit_words(_BETWEEN.split(_joined_units(text).strip(" ;/")), channels)
    if len(tokens) != len(channels):
        raise _Refused(f"{_count(len(channels), 'value')} due, {len(tokens)} came")
    if "." in text and "," in text:
        raise _Refused("it has both a point and a comma, so the decimal sign is not clear")
    readings = [
        _one(index, token, channel, t_ns)
        for index, (token, channel) in enumerate(zip(tokens, channels, strict=True))
        if token not in _NOT_READ
    ]
    if not readings:
        raise _Refused("it has no value")
    return readings


def _joined_units(text: str) -> str:
    """``r/min`` and ``1/min`` hold the sign that also parts two values."""
    return re.sub(r"(?i)(?<![0-9.,])\s?(?:r|1)/min\b", "rpm", text)


def _without_unit_words(tokens: list[str], channels: Sequence[ChannelCard]) -> list[str]:
    """Drop unit words that stand alone behind a number of their kind."""
    kept: list[str] = []
    for token in tokens:
        place = len(kept) - 1
        if 0 <= place < len(channels) and token.lower() in _UNIT_WORDS.get(channels[place].quantity, ()):
            continue
        kept.append(token)
    return kept


def _one(index: int, token: str, channel: ChannelCard, t_ns: int) -> Reading:
    if token.lower() in _OVERLOAD:
        return Reading(index, t_ns, None, Quality.OVERLOAD)
    if _AMBIGUOUS.match(token):
        raise _Refused(f"{token} can be read in two ways; leave the thousands comma out, or write a point")
    match = _TOKEN.fullmatch(token)
    if match is None:
        raise _Refused(f"“{token}” is no number")
    quantity = channel.quantity
    unit = match[2].lower()
    if unit and unit not in _UNIT_WORDS.get(quantity, ()):
        raise _Refused(f"“{token}” is not in {quantity.unit}")
    value = float(match[1].replace(",", ".")) * channel.scale + channel.offset
    if abs(value) > _LIMIT.get(quantity, 1e12):
        raise _Refused(f"{value:g} {quantity.unit} can't be; are the values in the right order?")
    return Reading(index, t_ns, value)


def _count(number: int, what: str) -> str:
    return f"1 {what} is" if number == 1 else f"{number} {what}s are"
