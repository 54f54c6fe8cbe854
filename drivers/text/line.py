"""One line of text into a value and its quality. Pure; never raises on what a line holds."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from daq.driver_api import Quality, Quantity
from drivers.text.settings import TextSettings
from drivers.text.units import FUNCTION_WORDS, Coupling, Unit, coupling_due, kind_due, unit_named

__all__ = ["Judged", "judge_line", "judge_number"]

_OVERLOAD = re.compile(
    r"(?<![A-Za-z])[-+]?\.?(?:[O0]\.?L|OVER(?:LOAD|FLOW|RANGE)?|OVLD|OVRLD|OFL|INF(?:INITY)?)(?![A-Za-z])",
    re.IGNORECASE,
)
_NOT_A_NUMBER = re.compile(r"(?<![A-Za-z])NAN(?![A-Za-z])", re.IGNORECASE)
_DASHES = re.compile(r"(?:[. ]*[-–—_]){2,}[. ]*[A-Za-zµμΩ°%~ ]{0,12}")
_LOW_BATTERY = re.compile(
    r"(?<![A-Za-z])(?:LOW?[ _-]?BAT(?:T(?:ERY)?)?|BAT(?:T(?:ERY)?)?[ _-]?LOW?)(?![A-Za-z])", re.IGNORECASE
)
_HELD = re.compile(r"(?<![A-Za-z/])(?:HOLD|MAX|MIN)(?![A-Za-z-])")
_NUMBER = re.compile(r"(?:[-+]\s{0,4})?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?")
_WORD = re.compile(r"~|%|1/[A-Za-z]+|[A-Za-zµμΩΩ°]+(?:/[A-Za-z]+|\^?-1)?~?")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
_GLUED_BEFORE = re.compile(r"[A-Za-z]+$")
_PREFIX_WORDS = {"AC", "DC", "ACV", "DCV", "VAC", "VDC", "RPM", "N"}
"""Words that may touch the number behind them; other letters make it part of a name."""
_OVERLOAD_FROM = 9.9e37
"""Instruments that share code with a SCPI one send its overload number as text (SCPI-99 vol. 1, 7.2.1.4)."""
_NAN_NUMBER = 9.91e37


class Judged(NamedTuple):
    """What a line is worth."""

    value: float | None
    quality: Quality


_BAD = Judged(None, Quality.BAD_FRAME)


def judge_line(data: bytes, quantity: Quantity, settings: TextSettings) -> Judged:
    """Find the line's number, hold its words against what is due, and judge it.

    Args:
        data: the line without its end.
        quantity: what the channel is for; the value comes in its unit.
        settings: the card's.
    """
    text = _decode(data)
    if text is None:
        return _BAD
    if _OVERLOAD.search(text) or any(word in text for word in settings.overload_words):
        return Judged(None, Quality.OVERLOAD)
    if settings.decimal_comma:
        text = _DECIMAL_COMMA.sub(".", text)
    found = _first_number(text)
    if found is None:
        return _without_number(text)
    value = float(re.sub(r"\s+", "", found.group()))
    judged = judge_number(value)
    if judged.value is None:
        return judged
    return _with_unit(value, text[: found.start()], text[found.end() :], quantity, settings)


def judge_number(value: float) -> Judged:
    """Judge a bare number: some stand for overload or for no value."""
    if not math.isfinite(value):
        return _BAD
    if abs(value) >= _OVERLOAD_FROM:
        nan = math.isclose(value, _NAN_NUMBER, rel_tol=1e-6)
        return Judged(None, Quality.NOT_A_NUMBER if nan else Quality.OVERLOAD)
    return Judged(value, Quality.GOOD)


def _decode(data: bytes) -> str | None:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        # Older instruments send one byte for the degree sign and for micro.
        if any(byte >= 0x80 and byte not in (0xB0, 0xB5) for byte in data):
            return None
        text = data.decode("latin-1")
    text = text.replace("\t", " ").strip()
    return text if text.isprintable() else None


def _without_number(text: str) -> Judged:
    if _NOT_A_NUMBER.search(text):
        return Judged(None, Quality.NOT_A_NUMBER)
    if _DASHES.fullmatch(text):
        return Judged(None, Quality.BLANK)
    return _BAD


def _first_number(text: str) -> re.Match[str] | None:
    """The first number that is not part of a name; None also where it might be a part of something else."""
    for match in _NUMBER.finditer(text):
        before = text[: match.start()]
        glued = _GLUED_BEFORE.search(before)
        if match.group()[0].isdigit() or match.group()[0] == ".":
            if glued is not None and glued.group().upper() not in _PREFIX_WORDS:
                continue
            if before and before[-1] in "_#":
                continue
        return match if _stands_alone(match.group(), before, text[match.end() :]) else None
    return None


def _stands_alone(number: str, before: str, after: str) -> bool:
    """A clock time, a date, a version, a list without spaces is not one number."""
    if before and before[-1] in ".,:/" and before[-2:-1].isdigit():
        return False
    if re.match(r"[.:/-]?\d|\.", after):
        # The unit 1/min may follow a number without a space; nothing else with a digit may.
        return False
    if re.match(r",\d", after):
        second = re.match(r",[\d.]+", after)
        return "." in number or (second is not None and "." in second.group())
    return True


def _with_unit(value: float, before: str, after: str, quantity: Quantity, settings: TextSettings) -> Judged:
    unit, coupling = _unit_and_coupling(before, after, quantity)
    due, coupling_wanted = kind_due(quantity), coupling_due(quantity)
    if unit is None and settings.require_unit:
        return _BAD
    if unit is not None and due is not None:
        if unit.kind is not due:
            return Judged(None, Quality.WRONG_FUNCTION)
        value = value * unit.factor + unit.offset
    if coupling_wanted is not None and coupling - {coupling_wanted}:
        return Judged(value, Quality.WRONG_FUNCTION)
    text = f"{before} {after}"
    if _LOW_BATTERY.search(text):
        return Judged(value, Quality.LOW_BATTERY)
    return Judged(value, Quality.HOLD if _HELD.search(text) else Quality.GOOD)


def _unit_and_coupling(before: str, after: str, quantity: Quantity) -> tuple[Unit | None, set[Coupling]]:
    due = kind_due(quantity)
    front, back = _WORD.findall(before), _WORD.findall(after)
    coupling = {c for word in front + back if (c := FUNCTION_WORDS.get(word.upper())) is not None}
    behind = [word for word in back if word.upper() not in FUNCTION_WORDS]
    unit = unit_named(behind[0], due) if behind else None
    if unit is None:
        # A single letter before the number is a label, except for the volt.
        named = (unit_named(word, due) for word in front if len(word) > 1 or word == "V")
        unit = next((u for u in named if u is not None), None)
    if unit is not None and unit.coupling is not None:
        coupling.add(unit.coupling)
    return unit, coupling
