"""The picture of a seven-segment display, as many hand meters send it at 2400 baud, into a reading."""

from __future__ import annotations

import re
from typing import NamedTuple

from daq.driver_api import ChannelCard, Quality, Quantity, Reading
from drivers.frame.segment_table import (
    CHARACTERS,
    FRAME_BYTES,
    LEFT_SEGMENTS,
    RIGHT_SEGMENTS,
    SYMBOLS,
)
from drivers.frame.settings import SegmentFrame

__all__ = ["Display", "SegmentLayout", "read_display"]

_MOST_REMARKS = 50
_FIRST_BYTE = re.compile(rb"[\x10-\x1f]")
_NUMBERED = re.compile(b"".join(b"[\\x%x0-\\x%xf]" % (n, n) for n in range(1, FRAME_BYTES + 1)))
_DIGIT_BYTES = (2, 4, 6, 8)
_POWERS = {"nano": -9, "micro": -6, "milli": -3, "kilo": 3, "mega": 6}
"""Powers of ten, so that 196.2 mV comes out as 0.1962 to the last bit."""
_UNITS = ("volt", "ampere", "ohm", "hertz", "farad", "percent", "celsius")
_LIT = tuple(
    {number: frozenset(name for bit, name in bits.items() if low & bit) for number, bits in SYMBOLS.items()}
    for low in range(16)
)
_SHOWN = tuple(
    tuple(
        CHARACTERS.get(
            frozenset(s for bit, s in LEFT_SEGMENTS.items() if left & bit)
            | frozenset(s for bit, s in RIGHT_SEGMENTS.items() if right & bit)
        )
        for right in range(16)
    )
    for left in range(8)
)

_DUE = {
    Quantity.AC_VOLTAGE: ("volt", "AC", "AC volts (V~)"),
    Quantity.DC_VOLTAGE: ("volt", "DC", "DC volts (V=)"),
    Quantity.DC_CURRENT: ("ampere", "DC", "DC amperes (A=)"),
    Quantity.RESISTANCE: ("ohm", "", "ohms (Ω)"),
    Quantity.FREQUENCY: ("hertz", "", "hertz (Hz)"),
    Quantity.TEMPERATURE: ("celsius", "", "degrees Celsius (°C)"),
}
_UNIT_WORDS = {
    "volt": "volts",
    "ampere": "amperes",
    "ohm": "ohms",
    "hertz": "hertz",
    "farad": "capacitance",
    "percent": "duty cycle (%)",
    "celsius": "degrees Celsius",
}


class Display(NamedTuple):
    """What is lit."""

    characters: str
    """Four characters, each a digit, L or a blank; "?" for one that can't be read."""
    decimals: int | None
    """Digits behind the point; None: more than one point is lit."""
    negative: bool
    lit: frozenset[str]
    """Names of the symbols that are lit, as in the table, and "celsius"."""


def read_display(frame: bytes, celsius_bit: int | None = None) -> Display:
    """Read the picture off a frame of 14 bytes that stand in order."""
    low = [byte & 0x0F for byte in frame]
    characters = "".join(_SHOWN[low[n - 1] & 7][low[n]] or "?" for n in _DIGIT_BYTES)
    points = [4 - place for place, n in enumerate(_DIGIT_BYTES) if place and low[n - 1] & 8]
    decimals = None if len(points) > 1 else (points[0] if points else 0)
    lit = frozenset().union(*(_LIT[low[number - 1]][number] for number in SYMBOLS))
    if celsius_bit is not None and low[13] & celsius_bit:
        lit |= {"celsius"}
    return Display(characters, decimals, bool(low[1] & 8), lit)


class SegmentLayout:
    """See :class:`drivers.frame.layout.Layout`."""

    length = FRAME_BYTES
    confirm = 0

    def __init__(self, channel: ChannelCard, settings: SegmentFrame) -> None:
        self._channel = channel
        self._celsius_bit = settings.celsius_bit
        self._function = ""
        self._remarks: list[str] = []

    def start_from(self, data: bytes, place: int) -> int:
        found = _FIRST_BYTE.search(data, place)
        return len(data) if found is None else found.start()

    def valid(self, frame: bytes) -> bool:
        return _NUMBERED.fullmatch(frame) is not None

    def readings(self, frame: bytes, t_ns: int) -> list[Reading]:
        value, quality = self._judge(read_display(frame, self._celsius_bit))
        if value is not None:
            value = value * self._channel.scale + self._channel.offset
        return [Reading(0, t_ns, value, quality)]

    def take_remarks(self) -> list[str]:
        remarks, self._remarks = self._remarks, []
        return remarks

    def _judge(self, display: Display) -> tuple[float | None, Quality]:
        units = [unit for unit in _UNITS if unit in display.lit]
        powers = [power for name, power in _POWERS.items() if name in display.lit]
        if "?" in display.characters or display.decimals is None or len(units) > 1 or len(powers) > 1:
            return None, Quality.BAD_FRAME
        if not display.characters.strip():
            return None, Quality.BLANK
        unit, coupling, _ = _DUE.get(self._channel.quantity, ("", "", ""))
        fits = self._function_fits(display, units, coupling)
        if units != [unit]:
            return None, Quality.WRONG_FUNCTION
        if display.characters.strip() == "0L":
            return None, Quality.OVERLOAD if fits else Quality.WRONG_FUNCTION
        digits = display.characters.lstrip()
        if not digits.isdigit():
            return None, Quality.BAD_FRAME
        power = sum(powers) - display.decimals
        value = int(digits) / 10**-power if power < 0 else float(int(digits) * 10**power)
        return -value if display.negative else value, _quality(
            display.lit
        ) if fits else Quality.WRONG_FUNCTION

    def _function_fits(self, display: Display, units: list[str], coupling: str) -> bool:
        """Whether the meter measures what is due; says what to turn when that changes for the worse."""
        unit_due, _, due_words = _DUE.get(self._channel.quantity, ("", "", "nothing that a meter shows"))
        coupled = display.lit & {"AC", "DC"}
        special = display.lit & {"diode", "beep", "relative"}
        fits = units == [unit_due] and not special and (not coupling or coupled == {coupling})
        function = "" if fits else _function_words(units, coupled, special)
        if function and function != self._function and len(self._remarks) < _MOST_REMARKS:
            turn = "switch REL off" if special == {"relative"} else f"turn it to {due_words}"
            self._remarks.append(f"The meter is on {function}, but {due_words} are due: {turn}.")
        self._function = function
        return fits


def _quality(lit: frozenset[str]) -> Quality:
    if "low battery" in lit:
        return Quality.LOW_BATTERY
    return Quality.HOLD if "hold" in lit else Quality.GOOD


def _function_words(units: list[str], coupled: frozenset[str], special: frozenset[str]) -> str:
    if "diode" in special:
        return "diode test"
    if "beep" in special:
        return "continuity"
    relative = "relative (REL) " if special else ""
    unit = _UNIT_WORDS[units[0]] if units else "a function without a unit"
    return f"{relative}{'+'.join(sorted(coupled))} {unit}".strip().replace("  ", " ")
