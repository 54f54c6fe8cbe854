"""Which load to leave off where the alternator can't carry them all."""

from __future__ import annotations

from daq.job.charge.drawn import UNLISTED, Drawn
from daq.job.judging.given import Measured
from daq.job.judging.verdicts import CONFIDENCE, at_least

__all__ = ["what_to_drop"]


def what_to_drop(day: Measured, drawn: Drawn) -> str:
    """The least that has to be left off so that the battery gains; what is not on the card comes first.

    Which of the card's loads the machine can run without is not on the card, so these are only offered.

    Args:
        day: amps into the battery over the day, with everything as it is.
        drawn: what the loads draw.
    """
    loads = sorted(drawn.by_load, key=lambda each: (each[0] != UNLISTED, each[1]))
    for name, current in loads:
        if _gains(day, current):
            return f"Without {_said(name)} ({current:.1f} A on average) it would gain{_if([name])}."
    left_off: list[str] = []
    spared = 0.0
    for name, current in sorted(loads, key=lambda each: (each[0] != UNLISTED, -each[1])):
        left_off.append(name)
        spared += current
        if _gains(day, spared):
            names = _listed([_said(each) for each in left_off])
            return f"Without {names} together ({spared:.1f} A on average) it would gain{_if(left_off)}."
    return "Even without all its loads it would not be sure to gain: the alternator gives too little."


def _gains(day: Measured, spared_a: float) -> bool:
    # Loads draw up to a tenth more or less as the battery's volts change.
    u = (day.u**2 + (0.1 * spared_a) ** 2 / 3.0) ** 0.5
    return at_least(day.value + spared_a, u, 0.0) >= CONFIDENCE


def _said(name: str) -> str:
    return "the loads that are not on the card" if name == UNLISTED else f"the {name.removeprefix('the ')}"


def _if(names: list[str]) -> str:
    if names == [UNLISTED]:
        return ""
    return f", if the machine can run without {'it' if len(names) == 1 else 'them'}"


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
