"""One line of text into a value and its quality. Pure; never raises on what a line holds."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from daq.driver_api import Quality, Quantity
from drivers.text.numbers import FoundNumber, find_numbers
from drivers.text.settings import TextSettings
from drivers.text.units import (
    FUNCTION_WORDS,
    MEASURED_WORDS,
    RELATIVE_WORDS,
    Coupling,
    Kind,
    Unit,
    coupling_due,
    kind_due,
    unit_named,
)

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
_HELD = re.compile(
    r"(?<![A-Za-z])(?i:AUTO[ _-]?HOLD|HOLD|HLD|MAX)(?![A-Za-z])|(?<![A-Za-z/])(?:MIN|Min)(?![A-Za-z^-])"
)
"""In small letters ``min`` is the minute."""
_WORD = re.compile(r"~|%|1/[A-Za-z]+|[A-Za-z\u00b5\u03bc\u2126\u03a9°Δ∆]+(?:/[A-Za-z]+|\^?-1)?~?")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
_DOTTED = re.compile(r"(?<![B-UW-Zb-uw-z])([AaDd])\.\s?([Cc])\.?(?![A-Za-z])")
"""a.c. and d.c., also behind the volt or the ampere."""
_DIRECT = re.compile(r"⎓|(?<=[VAva])\s?={1,2}(?!\s*[-+.\d=])")
"""The sign of IEC 60417-5031 as text has it. ``V=19.6`` is a name and its value."""
_ALTERNATING = re.compile(r"[∼～]")
_LISTED = re.compile(r"\s*[,;]\s*")
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
    numbers = find_numbers(text)
    if not numbers:
        return _without_number(text)
    judged = judge_number(numbers[0].value)
    if judged.value is None:
        return judged
    return _with_unit(numbers, text, quantity, settings)


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
    return _plain(text) if text.isprintable() else None


def _plain(text: str) -> str:
    """Signs and abbreviations of alternating and direct as the words AC, DC and ~."""
    return _DIRECT.sub(" DC ", _DOTTED.sub(r"\1\2", _ALTERNATING.sub("~", text))).strip()


def _without_number(text: str) -> Judged:
    if _NOT_A_NUMBER.search(text):
        return Judged(None, Quality.NOT_A_NUMBER)
    if _DASHES.fullmatch(text):
        return Judged(None, Quality.BLANK)
    return _BAD


def _with_unit(numbers: list[FoundNumber], line: str, quantity: Quantity, settings: TextSettings) -> Judged:
    due, coupling_wanted = kind_due(quantity), coupling_due(quantity)
    unit, coupling = _unit_and_coupling(numbers[0], numbers[1:], due)
    if _other_function(numbers, due):
        return Judged(None, Quality.WRONG_FUNCTION)
    if unit is None and settings.require_unit:
        return _BAD
    if unit is not None and due is not None and unit.kind is not due:
        return Judged(None, Quality.WRONG_FUNCTION)
    if _is_ambiguous(numbers, unit, due):
        return _BAD
    value = numbers[0].value
    if unit is not None and due is not None:
        value = value * unit.factor + unit.offset
    if coupling_wanted is not None and coupling - {coupling_wanted}:
        return Judged(value, Quality.WRONG_FUNCTION)
    if _LOW_BATTERY.search(line):
        return Judged(value, Quality.LOW_BATTERY)
    return Judged(value, Quality.HOLD if _HELD.search(line) else Quality.GOOD)


def _other_function(numbers: list[FoundNumber], due: Kind | None) -> bool:
    """The line names a function that is not due. What stands before a further number may be that one's name."""
    first = numbers[0]
    words = _WORD.findall(first.before) + ([] if numbers[1:] else _WORD.findall(first.after))
    for word in (word.upper() for word in words):
        if word in RELATIVE_WORDS:
            return True
        if due is not None and MEASURED_WORDS.get(word, due) is not due:
            return True
    return False


def _is_ambiguous(numbers: list[FoundNumber], unit: Unit | None, due: Kind | None) -> bool:
    """Whether another number may be the one that is meant as well: of the same unit, or nothing tells them apart."""
    named_in_front = any(_unit_in_front(word, due) for word in _WORD.findall(numbers[0].before))
    for other in numbers[1:]:
        its = _unit_behind(other.after, due)
        if its is None and unit is not None and named_in_front:
            its = next((u for w in _WORD.findall(other.before) if (u := _unit_in_front(w, due))), None)
        if unit is not None:
            if its is not None and its.kind is unit.kind:
                return True
        elif its is not None:
            if due is None or its.kind is due or not _names(other.before):
                return True
        elif not _LISTED.fullmatch(other.before):
            return True
    return False


def _names(between: str) -> bool:
    """Whether there is a word that may be the name of what follows."""
    return any(word.upper() not in FUNCTION_WORDS for word in _WORD.findall(between))


def _unit_and_coupling(
    first: FoundNumber, others: list[FoundNumber], due: Kind | None
) -> tuple[Unit | None, set[Coupling]]:
    front = _WORD.findall(first.before)
    rest = _WORD.findall(" ".join([first.after, *(other.after for other in others)]))
    coupling = {c for word in front + rest if (c := FUNCTION_WORDS.get(word.upper())) is not None}
    unit = _unit_behind(first.after, due)
    if unit is None:
        unit = next((u for word in front if (u := _unit_in_front(word, due)) is not None), None)
    if unit is not None and unit.coupling is not None:
        coupling.add(unit.coupling)
    return unit, coupling


def _unit_behind(after: str, due: Kind | None) -> Unit | None:
    words = [word for word in _WORD.findall(after) if word.upper() not in FUNCTION_WORDS]
    return unit_named(words[0], due) if words else None


def _unit_in_front(word: str, due: Kind | None) -> Unit | None:
    """A single letter before the number is a label, except for the volt and the ohm."""
    return unit_named(word, due) if len(word) > 1 or word in ("V", "\u2126", "\u03a9") else None
