"""What to record next for a test: which of its readings go into one recording, and for how long.

Readings at one place with the dial on one quantity need no move of the meter
between them, so one recording holds them, such as the battery's volts at idle and
at test speed. The speed is recorded beside them by the tach.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from daq.errors import UsageError
from daq.job.sheet.steps import EngineState, Slot, Step
from daq.job.status import StepStatus
from daq.model.quantity import Quantity

__all__ = ["SPEEDS", "RecordingPlan", "plan_recording"]

SPEEDS = frozenset({Quantity.ROTATIONAL_SPEED, Quantity.REVOLUTIONS})
"""What a tach may count."""

_SETTLE_S = 2.0
"""Until a meter shows what it was just put on."""
_CHANGE_S = 8.0
"""From one held speed to the next."""


@dataclass(frozen=True)
class RecordingPlan:
    """One recording of a test."""

    step: Step
    slots: tuple[Slot, ...]
    """At one place and of one quantity, in the order in which they are taken."""
    seconds: float
    """How long to record."""

    @property
    def quantity(self) -> Quantity:
        """What the meter reads."""
        quantity = self.slots[0].quantity
        if quantity is None:
            raise ValueError(f"{self.slots[0].name} is counted by a person, not recorded")
        return quantity

    def fits(self, quantities: Collection[Quantity]) -> bool:
        """Whether one of the quantities is what is read; a tach's count of revolutions is a speed too."""
        wanted = SPEEDS if self.quantity in SPEEDS else {self.quantity}
        return not wanted.isdisjoint(quantities)

    @property
    def place(self) -> str:
        """Where the leads go, as the sheet's short name."""
        return self.slots[0].place

    @property
    def engine(self) -> tuple[EngineState, ...]:
        """What the engine does, one after the other."""
        return tuple(dict.fromkeys(slot.engine for slot in self.slots))

    def changes(self) -> tuple[tuple[float, EngineState], ...]:
        """When the engine goes to another speed: seconds since the recording began, and to which."""
        found, at_s = [], _SETTLE_S
        for slot, after in zip(self.slots, self.slots[1:], strict=False):
            at_s += slot.seconds
            if after.engine != slot.engine:
                found.append((at_s, after.engine))
            at_s += _CHANGE_S
        return tuple(found)


def plan_recording(
    status: StepStatus, readable: Collection[Quantity], wanted: Slot | None = None
) -> RecordingPlan:
    """Plan the next recording of a test.

    Args:
        status: of the test.
        readable: what the instruments at hand can read.
        wanted: one reading of it; None: the first that is still to be taken, or the first of all
            where every one was taken.

    Raises:
        UsageError: a person counts what is wanted.
    """
    step = status.step
    slots = [slot for slot in step.slot if slot.quantity is not None and slot.instead_of is None]
    if wanted is not None:
        if wanted.quantity is None:
            raise UsageError(f"{wanted.name} is counted by a person: type it in, as {wanted.name}=0.")
        return _plan(step, [wanted])
    done = {observed.slot for observed in status.observed if not observed.troubles}
    # What is read along with another is not worth a recording of its own where that one is there.
    spared = {(s.quantity, s.place) for s in slots if s.name in done and not s.optional}
    undone = [
        slot
        for slot in slots
        if slot.name not in done
        and not (slot.optional and (slot.quantity not in readable or (slot.quantity, slot.place) in spared))
    ] or slots
    # The speed goes along with whatever the meter reads.
    needed = [slot for slot in undone if slot.quantity not in SPEEDS] or undone
    first = needed[0]
    return _plan(step, [s for s in needed if (s.quantity, s.place) == (first.quantity, first.place)])


def _plan(step: Step, slots: list[Slot]) -> RecordingPlan:
    order: list[EngineState] = ["stopped", "idle", "test_speed"]
    slots.sort(key=lambda slot: order.index(slot.engine))
    seconds = sum(slot.seconds for slot in slots) + _SETTLE_S + _CHANGE_S * (len(slots) - 1)
    return RecordingPlan(step, tuple(slots), seconds)
