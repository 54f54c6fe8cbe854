"""Readings that can't be true, by what is read and where: named, kept, not judged."""

from __future__ import annotations

from dataclasses import dataclass

from daq.cards.machine import MachineCard
from daq.job.evidence.observed import Observed
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.sheet.steps import Slot
from daq.job.streams.steady import STOPPED_RPM
from daq.job.words import as_read
from daq.model.quantity import Quantity

__all__ = ["Bounds", "bounds_of", "plausibility"]

_FLAT_SHARE = 0.1
"""Of its nominal volts: under that no battery is read but thin air (common practice, no source)."""
_DEAD_TERMINAL_SHARE = 0.7
_BATTERY_C = (-40.0, 80.0)
"""Colder its acid freezes, hotter it boils dry: no battery is put to work beyond (common practice, no source)."""
_MOST_COUNTED = 240.0
"""Jumps of a display in a minute that a person can count, four a second (common practice, no source)."""
_DEGREES = "read the thermometer again, and give degrees Fahrenheit with an F"
_LEAD_ZERO_OHM = 0.05
"""How far under zero an ohmmeter's own zero may lie."""


@dataclass(frozen=True)
class Bounds:
    """Between what a reading can be true, and what is wrong most likely where it is not."""

    low: float
    high: float
    below: str
    above: str


_REVERSED = "the leads are reversed"
_NO_CONTACT = (
    "the leads are reversed or do not touch the posts, or the dial is wrong; even a flat battery shows more"
)
_DOUBLE = "marks are counted double"
_FUNCTION = "check the dial, its range, and where the leads are"


def bounds_of(slot: Slot, machine: MachineCard) -> Bounds | None:
    """What a slot's reading can be at most and at least; None where anything can."""
    nominal_v = _nominal_v(machine)
    if slot.quantity is Quantity.DC_VOLTAGE:
        if slot.place == "battery":
            return Bounds(_FLAT_SHARE * nominal_v, 1.7 * nominal_v, _NO_CONTACT, _FUNCTION)
        if slot.place == "stator_loaded":
            # The mean of an alternating voltage: small, and of either sign.
            return Bounds(-1.7 * nominal_v, 1.7 * nominal_v, _FUNCTION, _FUNCTION)
        return Bounds(-0.3 if slot.place == "wiring" else -0.1, 1.7 * nominal_v, _REVERSED, _FUNCTION)
    if slot.quantity is Quantity.AC_VOLTAGE:
        high = nominal_v if slot.place == "battery" else 400.0
        return Bounds(0.0, high, "AC volts have no sign: the meter is on DC", _FUNCTION)
    if slot.quantity is Quantity.DC_CURRENT:
        high = _most_current_a(machine)
        return Bounds(-high, high, _FUNCTION, _FUNCTION)
    if slot.quantity is Quantity.RESISTANCE:
        high = 5.0 if slot.place == "shorted" else 1e9
        return Bounds(
            -_LEAD_ZERO_OHM,
            high,
            "the circuit is not dead, or the meter's zero was set with something else",
            "the leads do not touch, or one of them is broken",
        )
    if slot.quantity is Quantity.ROTATIONAL_SPEED:
        if slot.name == "governed_speed":
            return Bounds(
                STOPPED_RPM,
                3.0 * machine.rated_speed_rpm,
                "the engine stands or the tach sees no mark",
                _DOUBLE,
            )
        return Bounds(0.0, 3.0 * machine.rated_speed_rpm, "a speed has no sign here", _DOUBLE)
    if slot.quantity is Quantity.TEMPERATURE:
        if slot.name == "battery_temperature":
            return Bounds(*_BATTERY_C, _DEGREES, _DEGREES)
        return Bounds(-40.0, 200.0, _FUNCTION, _FUNCTION)
    return Bounds(
        0.0, _MOST_COUNTED, "a count starts at 0", "nobody follows a count so fast; type how often it jumped"
    )


def _nominal_v(machine: MachineCard) -> int:
    """The battery's; the largest there is where it isn't known."""
    return machine.battery.nominal_voltage_v if machine.battery is not None else 24


def _most_current_a(machine: MachineCard) -> float:
    known = [sum(load.current_a for load in machine.load)]
    if machine.charging_current_a is not None:
        known.append(machine.charging_current_a[1])
    return 10.0 * max(known) if max(known) > 0.0 else 1000.0


def plausibility(observed: Observed, slot: Slot, machine: MachineCard) -> tuple[Trouble, ...]:
    """The trouble with a reading that can't be true; () where it can."""
    if observed.value is None:
        return _over_range(observed, slot)
    bounds = bounds_of(slot, machine)
    if slot.quantity is None and observed.value != round(observed.value):
        text = (
            f"{observed.value:g} for {slot.title} can't be true: a count is a whole number. Kept, not judged."
        )
        return (Trouble(TroubleKind.CANNOT_BE_TRUE, text),)
    if bounds is None or bounds.low <= observed.value <= bounds.high:
        return ()
    if slot.place == "wiring" and observed.value < -_DEAD_TERMINAL_SHARE * _nominal_v(machine):
        # The battery's volts against a terminal that has none: a finding, not a slip of the leads.
        return ()
    said = as_read(observed.value, observed.digit, slot.unit)
    cause = bounds.below if observed.value < bounds.low else bounds.above
    nominal = ""
    if slot.quantity is Quantity.DC_VOLTAGE and machine.battery is not None:
        nominal = f" at a {machine.battery.nominal_voltage_v} V battery"
    return (
        Trouble(
            TroubleKind.CANNOT_BE_TRUE,
            f"{said} for {slot.title}{nominal} can't be true: {cause}. Kept, not judged.",
        ),
    )


def _over_range(observed: Observed, slot: Slot) -> tuple[Trouble, ...]:
    if not observed.overload or observed.rated is not None:
        return ()
    if slot.quantity is Quantity.RESISTANCE and slot.place != "shorted":
        return ()
    text = f"Over range for {slot.title}: choose a larger range and check the leads. Kept, not judged."
    return (Trouble(TroubleKind.CANNOT_BE_TRUE, text),)
