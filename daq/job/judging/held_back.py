"""Whether the regulator was holding back: a nearly full battery takes little, and that is no fault of anything."""

from __future__ import annotations

from daq.job.judging.given import Given
from daq.job.judging.verdicts import CONFIDENCE, at_least, at_most

__all__ = ["holds_back", "may_hold_back"]

_LEAST_RISE_V = 0.1
"""Of a 12 V battery, over its volts at rest: without so much nothing is held, the volts are its own."""


def holds_back(given: Given, slot: str = "voltage_work") -> float:
    """Probability that the battery's volts were held within the card's charging range.

    0 where the volts, or the card's range, are not known. Volts over the range are
    not held either, and neither are those that do not rise over the volts at rest.
    """
    volts, card = given.value(slot), given.machine.charging_voltage_v
    if volts is None or card is None:
        return 0.0
    within = at_least(volts.value, volts.u, card[0]) * at_most(volts.value, volts.u, card[1])
    rest = given.value("rest_voltage")
    if rest is None:
        return within
    u = (volts.u**2 + rest.u**2) ** 0.5
    return within * at_least(volts.value - rest.value, u, _LEAST_RISE_V * given.volts_scale)


def may_hold_back(given: Given, slot: str = "voltage_work") -> bool:
    """Whether that can't be ruled out: few amps are held against nobody then."""
    return holds_back(given, slot) > 1.0 - CONFIDENCE
