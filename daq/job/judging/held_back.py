"""Whether the regulator was holding back: a nearly full battery takes little, and that is no fault of anything."""

from __future__ import annotations

from daq.cards.machine_parts import AlternatorClass
from daq.job.judging.given import Given
from daq.job.judging.verdicts import CONFIDENCE, at_least, at_most

__all__ = ["holds_back", "may_hold_back", "stands_high"]

_LEAST_RISE_V = 0.1
"""Of a 12 V battery, over its volts at rest: without so much nothing is held, the volts are its own."""
_USUAL_V = (13.3, 15.0)
"""Of a 12 V battery on charge, where the card has no range (common practice, no source)."""
_UNTOLD = 0.5


def stands_high(given: Given, slot: str = "voltage_work") -> float:
    """Probability that the battery's volts stood within the charging range: so high they do while it is charged.

    0 where the volts are not known, or do not rise over those at rest; the card's range, else a usual one. The usual
    ones are those of lead-acid batteries: of another without a range it is an even chance, which blames nothing.
    """
    volts, scale = given.value(slot), given.volts_scale
    if volts is None:
        return 0.0
    battery = given.machine.battery
    if given.machine.charging_voltage_v is None and battery is not None and not battery.lead_acid:
        within = _UNTOLD
    else:
        low, high = given.machine.charging_voltage_v or (_USUAL_V[0] * scale, _USUAL_V[1] * scale)
        within = at_least(volts.value, volts.u, low) * at_most(volts.value, volts.u, high)
    rest = given.value("rest_voltage")
    if rest is None:
        return within
    u = (volts.u**2 + rest.u**2) ** 0.5
    return within * at_least(volts.value - rest.value, u, _LEAST_RISE_V * scale)


def holds_back(given: Given, slot: str = "voltage_work") -> float:
    """The same of a regulator that held the volts there, and could have given more; 0 where there is none."""
    return 0.0 if given.machine.alternator is AlternatorClass.DC_ONLY else stands_high(given, slot)


def may_hold_back(given: Given, slot: str = "voltage_work") -> bool:
    """Whether that can't be ruled out: few amps are held against nobody then."""
    return holds_back(given, slot) > 1.0 - CONFIDENCE
