"""Before and after: what changed, by how much, whether that is more than chance, and whether the limit is now met."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from daq.job.evidence.observed import Observed, RatedFound
from daq.job.sheet.steps import Slot
from daq.job.status import StepState, StepStatus
from daq.job.words import amount, with_wide
from daq.model.counted import counted, times
from daq.run.compared import compare_recorded
from daq.run.recorded import RecordedRun
from daq.verdict.change import Change, compare_results
from daq.verdict.result import Result

__all__ = ["RunComparison", "SlotChange", "compare_rounds", "compare_runs"]

_COVERAGE = 2.0


class SlotChange(msgspec.Struct, frozen=True, kw_only=True):
    """One reading before and after."""

    step: str
    slot: str
    title: str
    before: str
    after: str
    change: str
    """With its uncertainty; "" where one of the two is no number."""
    significant: bool | None
    """More than the measurement's uncertainty; None where that can't be said."""
    verdict_before: StepState
    verdict_after: StepState

    @property
    def limit_now_met(self) -> bool:
        """The test failed before and passes now."""
        return self.verdict_before != "pass" and self.verdict_after == "pass"


class RunComparison(msgspec.Struct, frozen=True, kw_only=True):
    """Two recorded runs of the AC output."""

    change: Change
    limit_now_met: bool | None
    """The limit is met after; None where there is none, or no output can be stated."""
    sentence: str


def compare_runs(before: RecordedRun, after: RecordedRun) -> RunComparison:
    """Compare the rated output of two runs, and say whether the limit is now met."""
    change = compare_recorded(before, after)
    was, now = change.before.verdict, change.after.verdict
    met = {"pass": True, "fail": False}.get(now)
    sentence = {
        "pass": "The limit is met now" + (", as it was before." if was == "pass" else "; it was not before."),
        "fail": "The limit is not met"
        + (" any more; it was before." if was == "pass" else ", neither before nor now."),
        "too_close": "Whether the limit is met now is too close to call.",
        "no_limit": "The machine card has no limit to hold it against.",
    }.get(now, "The run after states no output, so nothing is proven.")
    return RunComparison(change=change, limit_now_met=met, sentence=" ".join((*change.reasons[:1], sentence)))


def compare_rounds(before: Sequence[StepStatus], after: Sequence[StepStatus]) -> tuple[SlotChange, ...]:
    """Every reading that was taken both before and after a repair.

    Args:
        before: the steps of the earlier round.
        after: those of the later one; steps carried over from before are left out.
    """
    changes = []
    earlier = {each.step.name: each for each in before}
    for now in after:
        was = earlier.get(now.step.name)
        if was is None or now.round == was.round:
            continue
        old = {observed.slot: observed for observed in was.observed}
        for observed in now.observed:
            slot = now.step.slot_named(observed.slot)
            if slot is not None and observed.slot in old:
                changes.append(_change(slot, old[observed.slot], observed, was, now))
    return tuple(changes)


def _change(slot: Slot, old: Observed, new: Observed, was: StepStatus, now: StepStatus) -> SlotChange:
    text, significant = _difference(slot, old, new)
    return SlotChange(
        step=now.step.name,
        slot=slot.name,
        title=slot.title,
        before=_reading(slot, old),
        after=_reading(slot, new),
        change=text,
        significant=significant,
        verdict_before=was.state,
        verdict_after=now.state,
    )


def _difference(slot: Slot, old: Observed, new: Observed) -> tuple[str, bool | None]:
    if not old.usable or not new.usable:
        return "", None
    if slot.kind == "run" and old.rated is not None and new.rated is not None:
        change = compare_results(_result(old.rated), _result(new.rated))
        if change.change_V is None or change.expanded_uncertainty_V is None:
            return "", None
        least = old.rated.at_least or new.rated.at_least
        words = with_wide(change.change_V, change.expanded_uncertainty_V, "V", signed=True, least=least)
        return words, change.significant
    if slot.kind == "watch":
        gone = len(old.openings) - len(new.openings)
        return (counted(-gone, "opening", signed=True), gone != 0) if gone else ("no change", False)
    if old.overload or new.overload:
        return "", old.overload != new.overload
    if old.value is None or new.value is None:
        return "", None
    if slot.quantity is None:
        more = round(new.value) - round(old.value)
        return (counted(more, "opening", signed=True), True) if more else ("no change", False)
    change_by, u = new.value - old.value, (old.u**2 + new.u**2) ** 0.5
    return amount(change_by, u, slot.unit, signed=True), abs(change_by) > _COVERAGE * u


def _reading(slot: Slot, observed: Observed) -> str:
    if observed.rated is not None and observed.rated.rated_voltage_v is not None:
        found = observed.rated
        return f"{found.words}{',' if found.at_least else ''} at {found.rated_speed_rpm:.0f} rpm"
    if slot.kind == "watch":
        return f"{counted(len(observed.openings), 'opening')} in {observed.span_s:.0f} s"
    if slot.quantity is None and observed.value is not None:
        return times(round(observed.value))
    if observed.overload:
        return "open" if slot.unit == "ohm" else "over range"
    return "none" if observed.value is None else amount(observed.value, observed.u, slot.unit)


def _result(found: RatedFound) -> Result:
    return Result(
        rated_speed_rpm=found.rated_speed_rpm,
        rated_voltage_V=found.rated_voltage_v,
        standard_uncertainty_V=found.u_rated_voltage_v if found.rated_voltage_v is not None else None,
        effective_degrees_of_freedom=found.degrees_of_freedom,
        reasons=list(found.reasons),
    )
