"""Which of a test's readings a recording is for, where that was not said."""

from __future__ import annotations

from collections.abc import Sequence

from daq.errors import UsageError
from daq.job.evidence.observed import Observed
from daq.job.evidence.trouble import TroubleKind
from daq.job.sheet.steps import Slot, Step
from daq.model.quantity import Quantity

__all__ = ["fits", "fitting"]


def fitting(found: Sequence[Observed], step: Step, missing: Sequence[Slot], name: str) -> list[Observed]:
    """Which of a test's readings a recording is for, where that was not said."""
    good = [each for each in found if fits(each)]
    for each in good:
        _check_told_apart(each, [other for other in good if other.quantity is each.quantity], step, name)
    if any(each.quantity is not Quantity.ROTATIONAL_SPEED for each in good):
        return good
    # The meter's readings fit nowhere: they are kept with their trouble, in the first place that waits.
    waiting = [slot for slot in (*missing, *step.slot) if slot.quantity is not Quantity.ROTATIONAL_SPEED]
    return [*good, *(each for each in found if each.slot == waiting[0].name)]


def fits(observed: Observed) -> bool:
    """Whether a recording is for a reading, be it cut short."""
    return all(trouble.kind is TroubleKind.CUT_SHORT for trouble in observed.troubles)


def _check_told_apart(each: Observed, rivals: Sequence[Observed], step: Step, name: str) -> None:
    """Two readings of one quantity are told apart by what the engine did, if its speed was recorded."""
    engines = {_engine(step, other) for other in rivals}
    if len(rivals) == 1 or (len(engines) == len(rivals) and any(r.speed_rpm is not None for r in rivals)):
        return
    names = " or ".join(other.slot for other in rivals)
    raise UsageError(f"{name} could be {names}: say which, like {each.slot}={name}.")


def _engine(step: Step, observed: Observed) -> str:
    slot = step.slot_named(observed.slot)
    return slot.engine if slot is not None else ""
