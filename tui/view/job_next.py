"""The obvious next thing to do in a job, and everything that must be known to do it."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from tui.view.job_state import NextThing, Section, Sentence
from tui.view.job_step import what_to_see_to
from tui.view.numbers import seconds

if TYPE_CHECKING:
    from daq.job.plan import RecordingPlan
    from daq.job.sheet.steps import Slot
    from daq.job.status import JobStatus, StepStatus
    from daq.model.quantity import Quantity

__all__ = ["next_thing", "planned", "typing_of"]

_FORMS = {"ohm": "ohms", "degC": "°C"}
_EXAMPLES = {"V": "12.61", "A": "3.2", "ohm": "0.25", "rpm": "3600", "degC": "20", "": "0"}


def next_thing(
    status: JobStatus,
    each: StepStatus,
    readable: Collection[Quantity],
    left_over: str = "",
    *,
    by_itself: bool = False,
) -> NextThing:
    """What Enter does with a test.

    Args:
        status: of the job.
        each: the test that is shown.
        readable: what the instruments at hand can read.
        left_over: name of a recording of this job that was not taken in, or "".
        by_itself: nobody chose the test; where all are done, what comes after them is next.
    """
    if left_over:
        return NextThing("take", f"Enter takes in {left_over}, which was recorded and not taken in.")
    if not each.step.slot or (by_itself and status.next_step is None):
        return _after_tests(status)
    plan = planned(each, readable)
    if plan is not None:
        return _record(status, each, plan)
    return typing_of(status, each)


def planned(each: StepStatus, readable: Collection[Quantity]) -> RecordingPlan | None:
    """The recording that the instruments at hand can make for a test; None where there is none."""
    from daq.job.plan import plan_recording

    if not readable or all(slot.quantity is None for slot in each.step.slot):
        return None
    plan = plan_recording(each, readable)
    return plan if plan.fits(readable) else None


def _after_tests(status: JobStatus) -> NextThing:
    if status.next_step is None:
        return NextThing("report", "All tests are done. Enter writes the report.", title="The report")
    leading = status.diagnosis.leading
    ready = (
        Section("What was done?", (Sentence("In a few words; what failed is due again after it.", "text"),)),
        Section("To be done", (Sentence(leading.remedy, "strong", "▶"),) if leading is not None else ()),
    )
    return NextThing(
        "repair",
        "When it is repaired: Enter, and say what was done.",
        status.next_step.name,
        title="After the repair",
        ready=tuple(section for section in ready if section.sentences),
        example="new connector at the stator's plug",
    )


def _record(status: JobStatus, each: StepStatus, plan: RecordingPlan) -> NextThing:
    titles = ", then ".join(slot.title for slot in plan.slots)
    return NextThing(
        "record",
        f"Enter records {titles}, for {seconds(plan.seconds)}.",
        each.step.name,
        tuple(slot.name for slot in plan.slots),
        title=f"Record: {titles}",
        ready=what_to_see_to(status, each, plan.slots),
    )


def typing_of(status: JobStatus, each: StepStatus, wanted: str | None = None) -> NextThing:
    """Typing a reading of a test.

    Args:
        status: of the job.
        each: the test.
        wanted: which reading; None: the next one to be taken.
    """
    slot = each.step.slot_named(wanted) if wanted else None
    slot = slot or _next_slot(each)
    if slot.kind == "run":
        form, example = "volts and rpm read together, with a blank between", "19.6 3580"
    elif slot.quantity is None:
        form, example = "a number", "0"
    else:
        form, example = f"in {_FORMS.get(slot.unit, slot.unit)}", _EXAMPLES.get(slot.unit, "1.5")
    return NextThing(
        "type",
        f"Enter, then type {slot.title}.",
        each.step.name,
        (slot.name,),
        title=f"Type {slot.title}, {form}",
        ready=what_to_see_to(status, each, (slot,)),
        example=example,
    )


def _next_slot(each: StepStatus) -> Slot:
    """The first that is missing, or not yet read, or all over again; a watch is counted by hand."""
    taken = {observed.slot for observed in each.observed}
    unread = [slot for slot in each.step.slot if slot.name not in taken and slot.instead_of is None]
    slot = next(iter((*each.missing, *unread, *each.step.slot)))
    if slot.kind != "watch":
        return slot
    stand_ins = [other for other in each.step.slot if other.instead_of == slot.name]
    return stand_ins[0] if stand_ins else slot
