"""Readings typed in: "12.61", "12,61 V", "0.25 ohm", "OL", "19.6 3580"."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from daq.cards.instrument import Accuracy, ChannelCard, InstrumentCard
from daq.cards.machine import MachineCard
from daq.errors import UsageError
from daq.job.evidence.meter_on_ac import ac_notes
from daq.job.evidence.observed import TYPED, Observed, RatedFound
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.evidence.usual_limits import USUAL_SOURCE, usual_accuracy
from daq.job.sheet.steps import Slot
from daq.model.quantity import Quantity
from daq.rated.departure import row_departure
from daq.rated.proportion import Proportion

__all__ = ["TypedNumber", "parse_number", "typed_observation"]

_NUMBER = re.compile(
    r"\s*+([+-]?\d+(?:[.,](\d+))?)\s*+(m|k|M)?(V|A|ohms?|Ω|Hz|rpm|°?C|°?F)?\s*+(AC|DC|~)?\s*+\Z",
    re.IGNORECASE,
)
"""No blank is given back: three parts that share a run of blanks would take time by its length's cube."""
_UNIT_APART = re.compile(r"(?<=[\dVA])\s+(?=[^\d\s.,+;-])", re.IGNORECASE)
"""A unit that stands apart from its number, or AC apart from V."""
_FAR_SHARE = 0.12
"""Share of rated speed beyond which a run at one speed passes nothing; see :mod:`daq.verdict.judge`."""
_OPEN = frozenset({"ol", "o.l", "o.l.", "0l", "0.l", "open", "overload", "over", "inf"})
_PREFIX = {"m": 1e-3, "k": 1e3, "M": 1e6}
_UNITS = {"v": "V", "a": "A", "ohm": "ohm", "ohms": "ohm", "ω": "ohm", "hz": "Hz", "rpm": "rpm", "c": "degC"}


class TypedNumber:
    """A number as it was typed.

    Attributes:
        value: in the unit given, prefix applied; None for over range.
        digit: weight of its last decimal.
        unit: as in :class:`Quantity`, or "" where none was typed.
        kind: "AC", "DC" or "".
    """

    def __init__(self, value: float | None, digit: float, unit: str, kind: str) -> None:
        self.value, self.digit, self.unit, self.kind = value, digit, unit, kind


def parse_number(text: str) -> TypedNumber:
    """Read one typed number.

    Raises:
        UsageError: it is none.
    """
    if text.strip().lower() in _OPEN:
        return TypedNumber(None, 0.0, "", "")
    match = _NUMBER.match(text)
    if match is None:
        raise UsageError(
            f"{text.strip()!r} is no reading; type it like 12.61, 0.25 ohm, or OL for over range."
        )
    digits, decimals, prefix, unit, kind = match.groups()
    # "m" with no unit behind it, and "M" of "MV", are told apart by their case.
    scale = _PREFIX.get("M" if prefix == "M" else (prefix or "").lower(), 1.0)
    value, digit = float(digits.replace(",", ".")), 10.0 ** -len(decimals or "")
    name = (unit or "").lower().lstrip("°")
    if name == "f":
        return TypedNumber((value - 32.0) / 1.8, digit / 1.8, "degC", "")
    kind = (kind or "").upper().replace("~", "AC")
    return TypedNumber(value * scale, digit * scale, _UNITS.get(name, ""), kind)


def typed_observation(
    text: str, slot: Slot, machine: MachineCard, instrument: InstrumentCard | None = None
) -> Observed:
    """What a typed reading says for a slot.

    Args:
        text: as typed. A slot for volts with speed takes pairs, "19.6 3580", several with ";" between.
        slot: what was asked for.
        machine: the machine card.
        instrument: the instrument's card; None takes usual limits.

    Raises:
        UsageError: it can't be read as a reading.
    """
    if slot.kind == "run":
        return _typed_pairs(text, slot, machine, instrument)
    number = parse_number(text)
    accuracy, source = _accuracy(slot.quantity, instrument)
    card = _channel(slot.quantity, instrument)
    troubles = _function_trouble(number, slot)
    if number.value is None and slot.quantity is None:
        raise UsageError("A count is a whole number, 0 or more.")
    return Observed(
        slot=slot.name,
        quantity=slot.quantity,
        value=number.value,
        overload=number.value is None,
        share=accuracy.percent_of_reading / 100.0,
        counts=accuracy.counts * number.digit,
        digit=number.digit,
        accuracy_source=source,
        origin=TYPED,
        troubles=troubles,
        notes=ac_notes(card, slot, machine, None),
    )


def _channel(quantity: Quantity | None, instrument: InstrumentCard | None) -> ChannelCard | None:
    channels = instrument.channel if instrument is not None else ()
    return next((channel for channel in channels if channel.quantity is quantity), None)


def _accuracy(quantity: Quantity | None, instrument: InstrumentCard | None) -> tuple[Accuracy, str]:
    channel = _channel(quantity, instrument)
    if instrument is not None and channel is not None and channel.accuracy is not None:
        return channel.accuracy, f"card {instrument.name}"
    return usual_accuracy(quantity), USUAL_SOURCE


def _function_trouble(number: TypedNumber, slot: Slot) -> tuple[Trouble, ...]:
    wrong_unit = number.unit and slot.quantity is not None and number.unit != slot.unit
    alternating = slot.quantity is Quantity.AC_VOLTAGE
    wrong_kind = number.kind and number.kind != ("AC" if alternating else "DC")
    if not wrong_unit and not wrong_kind:
        return ()
    was = " ".join(part for part in (number.kind, number.unit) if part)
    asked = slot.quantity.value.replace("_", " ") if slot.quantity is not None else "a count"
    text = f"Typed in {was}, but {asked} is asked for: turn the dial and read again. Kept, not judged."
    return (Trouble(TroubleKind.WRONG_FUNCTION, text),)


def _typed_pairs(text: str, slot: Slot, machine: MachineCard, instrument: InstrumentCard | None) -> Observed:
    """Pairs of volts and speed, brought to rated speed one by one and averaged."""
    pairs = [_pair(each) for each in text.split(";")]
    v, n = (np.array([each[i].value for each in pairs], dtype=np.float64) for i in (0, 1))
    meter, source = _accuracy(Quantity.AC_VOLTAGE, instrument)
    tach, _ = _accuracy(Quantity.ROTATIONAL_SPEED, instrument)
    digit_v, digit_n = pairs[0][0].digit, pairs[0][1].digit
    mean_n = float(np.mean(n))
    rated = v * machine.rated_speed_rpm / n
    off = np.abs(n / machine.rated_speed_rpm - 1.0)
    nearest = n[[int(np.argmin(off))]]
    too_far = float(np.min(off)) > _FAR_SHARE
    # What pairs at one speed can't show of the way from there to rated speed, as of a recorded run.
    u_way = float(
        row_departure(Proportion(), nearest, machine.rated_speed_rpm, np.mean(rated, keepdims=True))[0]
    )
    u_v = _limit_u(meter, float(np.mean(np.abs(v))), digit_v) * machine.rated_speed_rpm / mean_n
    u_n = _limit_u(tach, mean_n, digit_n) * abs(float(np.mean(rated))) / mean_n
    found = RatedFound(
        rated_speed_rpm=machine.rated_speed_rpm,
        rated_voltage_v=None if too_far else float(np.mean(rated)),
        u_rated_voltage_v=float((_scatter_u(rated) ** 2 + u_v**2 + u_n**2 + u_way**2) ** 0.5),
        highest_speed_rpm=float(np.max(n)),
        reasons=(
            *((_far_sentence(float(nearest[0]), machine),) if too_far else ()),
            "Volts and speed were read off two displays at one glance; how long each averages is not known.",
        ),
    )
    return Observed(
        slot=slot.name,
        quantity=slot.quantity,
        value=float(np.mean(v)),
        scatter_u=_scatter_u(v),
        share=meter.percent_of_reading / 100.0,
        counts=meter.counts * digit_v,
        digit=digit_v,
        accuracy_source=source,
        readings=len(v),
        speed_rpm=mean_n,
        rated=found,
        troubles=_pairs_trouble(pairs),
        notes=ac_notes(_channel(slot.quantity, instrument), slot, machine, mean_n),
    )


def _far_sentence(speed_rpm: float, machine: MachineCard) -> str:
    rated = f"{machine.rated_speed_rpm:.0f} rpm"
    return (
        f"The speed nearest to {rated} is {speed_rpm:.0f} rpm, and whether the volts go on rising in proportion from "
        f"there nobody saw: read both displays with the engine near {rated}."
    )


def _pairs_trouble(pairs: Sequence[tuple[TypedNumber, TypedNumber]]) -> tuple[Trouble, ...]:
    """The first unit or kind that is not that of AC volts and rpm."""
    for volts, speed in pairs:
        for number, unit, kinds, asked in ((volts, "V", "AC", "AC volts"), (speed, "rpm", "", "rpm")):
            if number.unit not in {"", unit} or number.kind not in {"", kinds}:
                was = " ".join(part for part in (number.kind, number.unit) if part)
                text = (
                    f"Typed in {was}, but volts and speed are asked for, and here {asked}: turn the dial and read "
                    "again. Kept, not judged."
                )
                return (Trouble(TroubleKind.WRONG_FUNCTION, text),)
    return ()


def _pair(text: str) -> tuple[TypedNumber, TypedNumber]:
    words = _UNIT_APART.sub("", text).split()
    if len(words) != 2:
        raise UsageError(f"{text.strip()!r} is no pair of volts and rpm; type it like 19.6 3580.")
    volts, speed = parse_number(words[0]), parse_number(words[1])
    if volts.value is None or speed.value is None or speed.value <= 0.0:
        raise UsageError(f"{text.strip()!r}: volts and a speed above 0 are needed, like 19.6 3580.")
    return volts, speed


def _limit_u(accuracy: Accuracy, value: float, digit: float) -> float:
    """Standard uncertainty by the instrument's limits and its last digit, both rectangular."""
    limit = accuracy.percent_of_reading / 100.0 * value + accuracy.counts * digit
    return float((limit**2 / 3.0 + digit**2 / 12.0) ** 0.5)


def _scatter_u(values: NDArray[np.float64]) -> float:
    """Standard uncertainty of the mean; 0 for one value."""
    return float(np.std(values, ddof=1)) / len(values) ** 0.5 if len(values) > 1 else 0.0
