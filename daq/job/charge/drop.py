"""Which load to leave off where the alternator can't carry them all."""

from __future__ import annotations

from daq.job.charge.drawn import Drawn
from daq.job.judging.given import Measured
from daq.job.judging.verdicts import CONFIDENCE, at_least

__all__ = ["what_to_drop"]


def what_to_drop(day: Measured, drawn: Drawn) -> str:
    """The least that has to be left off so that the battery gains.

    Args:
        day: amps into the battery over the day, with everything as it is.
        drawn: what the loads draw.
    """
    loads = sorted(drawn.by_load, key=lambda each: each[1])
    for name, current in loads:
        if _gains(day, current):
            return f"Without {name} ({current:.1f} A on average) it would gain."
    left_off: list[str] = []
    spared = 0.0
    for name, current in reversed(loads):
        left_off.append(name)
        spared += current
        if _gains(day, spared):
            return f"Without {_listed(left_off)} together ({spared:.1f} A on average) it would gain."
    return "Even without all its loads it would not be sure to gain: the alternator gives too little."


def _gains(day: Measured, spared_a: float) -> bool:
    # Loads draw up to a tenth more or less as the battery's volts change.
    u = (day.u**2 + (0.1 * spared_a) ** 2 / 3.0) ** 0.5
    return at_least(day.value + spared_a, u, 0.0) >= CONFIDENCE


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
