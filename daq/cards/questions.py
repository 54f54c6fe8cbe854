"""What ``spinvolt machine new`` asks, in order: one question for each value of a machine card."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from daq.cards.machine_parts import AlternatorClass

__all__ = ["LOAD_QUESTIONS", "QUESTIONS", "Kind", "Question", "parse_answer"]

Kind = Literal["name", "text", "number", "integer", "range", "share", "choice"]

CHARGING = (AlternatorClass.DC_ONLY, AlternatorClass.REGULATED, AlternatorClass.SPLIT)


@dataclass(frozen=True)
class Question:
    """One question; a blank answer leaves the value open."""

    key: str
    """Key in the card; "battery.capacity_ah" lies in its table."""
    text: str
    kind: Kind
    unit: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    """(what is typed, what it means)"""
    classes: tuple[AlternatorClass, ...] | None = None
    """Asked for these alternators only, and where the class is unknown."""
    default: str = ""
    """Taken for a blank answer where the value can't stay open; for a number it is common practice, no source."""


QUESTIONS: tuple[Question, ...] = (
    Question("name", "A short name for the card (letters, digits, '-')", "name", default="my-machine"),
    Question("title", "What machine is it, in a few words", "text", default="A machine without a name"),
    Question(
        "alternator",
        "Which alternator: 1 AC only, 2 DC only (a diode in its lead), 3 AC with a regulator-rectifier, "
        "4 split circuits",
        "choice",
        choices=(("1", "ac_only"), ("2", "dc_only"), ("3", "regulated"), ("4", "split")),
    ),
    Question(
        "rated_speed_rpm", "Speed at which the service manual states the output", "number", "rpm",
        default="3600",
    ),
    Question(
        "speed_tolerance_rpm", "How far off that speed a reading may be taken", "number", "rpm", default="100"
    ),
    Question("idle_speed_rpm", "Idle speed", "number", "rpm"),
    Question(
        "minimum_ac_voltage_v", "Least AC volts, unloaded, at the test speed (ahead of a diode)", "number", "V"
    ),
    Question(
        "winding_resistance_ohm", "Winding resistance at 20 °C: least and most", "range", "ohm"
    ),
    Question("pole_pairs", "Pole pairs of the alternator (half the number of its poles)", "integer"),
    Question(
        "charging_voltage_v", "DC volts at the battery when charging: least and most", "range", "V",
        classes=CHARGING,
    ),
    Question(
        "charging_current_a", "DC amps of the alternator at the test speed: least and most", "range", "A",
        classes=CHARGING,
    ),
    Question(
        "battery.nominal_voltage_v", "Battery: 6, 12 or 24 V", "choice", "V",
        choices=(("6", "6"), ("12", "12"), ("24", "24")), classes=CHARGING,
    ),
    Question("battery.capacity_ah", "Battery: capacity", "number", "Ah", classes=CHARGING),
    Question(
        "battery.rated_hours", "Battery: hours of the discharge that the capacity is stated for", "number",
        "h", classes=CHARGING,
    ),
    Question(
        "battery.chemistry", "Battery: 1 flooded, 2 AGM, 3 gel, 4 lithium, 5 none of these", "choice",
        choices=(("1", "flooded"), ("2", "agm"), ("3", "gel"), ("4", "lithium"), ("5", "other")), classes=CHARGING,
    ),
    Question(
        "duty.idle_share", "Share of the running time at idle, in percent", "share", "%", classes=CHARGING
    ),
    Question("duty.work_speed_rpm", "Speed while working", "number", "rpm", classes=CHARGING),
)  # fmt: skip

LOAD_QUESTIONS: tuple[Question, ...] = (
    Question("name", "A load that is connected, by name (blank: there are no more)", "text"),
    Question("current_a", "What it draws", "number", "A"),
    Question(
        "share", "Share of the running time for which it is on, in percent", "share", "%", default="100"
    ),
)

_NUMBER = r"[+-]?\d+(?:[.,]\d+)?"


def parse_answer(question: Question, text: str) -> object:
    """The value that an answer means.

    Args:
        question: what was asked.
        text: the answer, not blank. A unit behind a number is allowed, and a comma for the point.

    Raises:
        ValueError: with one sentence that says what would be accepted.
    """
    text = text.strip()
    if question.kind == "text":
        return text[:120]
    if question.kind == "name":
        return _name(text)
    if question.kind == "choice":
        return _choice(question, text)
    if question.kind == "range":
        return _range(question, text)
    value = _number(question, text)
    if question.kind == "share":
        return value / 100.0
    return int(value) if question.kind == "integer" else value


def _name(text: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}", text):
        raise ValueError(f"{text!r} can't be a card's name: use letters, digits and '-', 40 at most.")
    return text


def _choice(question: Question, text: str) -> object:
    for typed, meaning in question.choices:
        if text.lower().removesuffix("v").strip() in {typed, meaning}:
            return int(meaning) if meaning.isdigit() else meaning
    raise ValueError(f"{text!r} is none of {', '.join(typed for typed, _ in question.choices)}.")


def _number(question: Question, text: str) -> float:
    match = re.fullmatch(rf"({_NUMBER})\s*([A-Za-z%Ω]*)", text)
    if match is None:
        raise ValueError(f"{text!r} is no number; type it like 3600 or 0,25, or leave the line blank.")
    unit = match[2].lower().replace("ω", "ohm").replace("ohms", "ohm")
    if unit and unit != question.unit.lower():
        raise ValueError(f"{text!r} is in {match[2]}; this is asked for in {question.unit or 'no unit'}.")
    value = float(match[1].replace(",", "."))
    if question.kind == "integer" and value != int(value):
        raise ValueError(f"{text!r} is no whole number.")
    return value


def _range(question: Question, text: str) -> list[float]:
    match = re.fullmatch(rf"({_NUMBER})\s*(?:-|–|to|\.\.|;|\s)\s*({_NUMBER})\s*([A-Za-zΩ]*)", text)
    if match is None:
        raise ValueError(f"{text!r} is no range; type the least and the most, like 0.22 0.28.")
    ends = [_number(question, f"{match[1]} {match[3]}"), _number(question, match[2])]
    if ends[0] > ends[1]:
        raise ValueError(f"{text!r}: type the least first, then the most.")
    return ends
