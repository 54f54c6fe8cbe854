"""Where a job stands: every step with its state and judgement, the diagnosis, the budget, and what is next."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from msgspec.structs import replace

from daq.cards.machine import MachineCard
from daq.job.charge.budget import ChargeBudget, charge_budget
from daq.job.diagnosis.rank import Diagnosis, diagnose
from daq.job.diagnosis.table import load_table
from daq.job.evidence.observed import Observed
from daq.job.evidence.plausible import plausibility
from daq.job.evidence.together import checked_together
from daq.job.evidence.trouble import TroubleKind
from daq.job.file.state import JobState, RoundState
from daq.job.judging.given import Given
from daq.job.judging.judge_step import judge_step
from daq.job.judging.verdicts import StepJudgement, StepVerdict
from daq.job.sheet.steps import AFTER_REPAIR, Sheet, Slot, Step

__all__ = ["ALWAYS_REPEATED", "INSTRUMENT_ERROR", "JobStatus", "StepState", "StepStatus", "job_status"]

StepState = StepVerdict | Literal["open", "partial", "skipped", "does_not_apply"]

ALWAYS_REPEATED = frozenset({"charging", "ac_output"})
"""Tests that a repair is proven by, whether or not they failed before."""

INSTRUMENT_ERROR = "instrument_error"
"""The fault that is no part's: its readings are repeated, and nothing is repaired."""

_NOTHING = RoundState()
_CLOSED = frozenset({"skipped", "does_not_apply", "cut_short"})
_SETTLED = frozenset({"pass", "no_limit", "skipped", "does_not_apply"})


@dataclass(frozen=True)
class StepStatus:
    """One step of the current round."""

    step: Step
    state: StepState
    judgement: StepJudgement | None
    observed: tuple[Observed, ...]
    missing: tuple[Slot, ...]
    """Slots still to be read; optional ones are not among them."""
    reason: str = ""
    """Why it was skipped, or does not apply."""
    round: int = 1
    """The round that its readings are from."""

    @property
    def passed_over(self) -> tuple[Slot, ...]:
        """Readings that the test could do without and that were not taken, once it is done; they can still be added."""
        if self.open or self.judgement is None or self.state == "cut_short":
            return ()
        read = {each.slot for each in self.observed}
        return tuple(slot for slot in self.step.slot if slot.optional and slot.name not in read)

    unproven: bool = False
    """It failed when it was last done, and was left out since the repair."""

    @property
    def open(self) -> bool:
        """Whether something is still to be read, or to be read again because it could not be judged."""
        return self.state in {"open", "partial"} or (self.state not in _CLOSED and bool(self.missing))


@dataclass(frozen=True)
class JobStatus:
    """The whole job."""

    state: JobState
    sheet: Sheet
    steps: tuple[StepStatus, ...]
    """Of the current round, in the sheet's order."""
    before: tuple[StepStatus, ...]
    """Of the first round; the same as ``steps`` while nothing was repaired."""
    given: Given
    diagnosis: Diagnosis
    budget: ChargeBudget | None
    next_step: Step | None
    next_reason: str
    troubles: tuple[str, ...]
    """What is wrong with the job file, in sentences."""

    def step(self, name: str) -> StepStatus:
        """A step's status by its name; KeyError where there is none."""
        for each in self.steps:
            if each.step.name == name:
                return each
        raise KeyError(name)


def job_status(state: JobState, sheet: Sheet) -> JobStatus:
    """Judge everything anew."""
    given, rounds = _judge_rounds(state, sheet)
    steps = rounds[state.round]
    open_names = [each.step.name for each in steps if each.open and each.step.name != AFTER_REPAIR]
    findings = [f for each in steps if each.judgement is not None for f in each.judgement.findings]
    diagnosis = diagnose(findings, open_names, load_table().of_class(state.machine.alternator))
    next_step, reason = _next(steps, diagnosis, sheet)
    return JobStatus(
        state=state,
        sheet=sheet,
        steps=steps,
        before=rounds[1],
        given=given,
        diagnosis=diagnosis,
        budget=charge_budget(given) if _charges(state.machine) else None,
        next_step=next_step,
        next_reason=reason,
        troubles=(
            *(each.text for each in state.troubles),
            *_recording_troubles(state),
            *_changed_verdicts(state, rounds),
        ),
    )


def _charges(machine: MachineCard) -> bool:
    return machine.alternator is None or machine.alternator.charges


def _judge_rounds(state: JobState, sheet: Sheet) -> tuple[Given, dict[int, tuple[StepStatus, ...]]]:
    """What the last round has to go by, and each round that says something of its own.

    Repairs without a reading after them change nothing but the number of the round. Where that is seen, only the
    last of them is judged, so that thousands cost what one costs.
    """
    given, steps = _judge_round(state, sheet, 1, None)
    rounds, number = {1: steps}, 1
    ends = _ends_of_the_like(state)
    while number < state.round:
        last = ends[number - 1]
        before = rounds.get(number - 1)
        if last > number and before is not None and _a_round_later(before, number - 1) == steps:
            steps = _a_round_later(steps, number, last - 1 - number)
            number = last - 1
        number += 1
        given, steps = _judge_round(state, sheet, number, steps)
        rounds[number] = steps
    return given, rounds


def _ends_of_the_like(state: JobState) -> list[int]:
    """For each round the last of those in a row, from it on, that say nothing; itself where it says something."""
    ends = list(range(1, state.round + 1))
    for at in range(state.round - 2, -1, -1):
        if state.rounds[at] == _NOTHING == state.rounds[at + 1]:
            ends[at] = ends[at + 1]
    return ends


def _a_round_later(steps: Sequence[StepStatus], number: int, later: int = 1) -> tuple[StepStatus, ...]:
    """The same a few rounds later: what was due in this round is due in that one."""
    return tuple(
        dataclasses.replace(each, round=number + later) if each.round == number else each for each in steps
    )


def _judge_round(
    state: JobState, sheet: Sheet, number: int, earlier: Sequence[StepStatus] | None
) -> tuple[Given, tuple[StepStatus, ...]]:
    kept = state.rounds[number - 1]
    carried = {each.step.name: each for each in earlier or () if not _due(each, kept)}
    checked = {
        name: _checked(reading.observed, sheet, state.machine) for name, reading in kept.readings.items()
    }
    for each in carried.values():
        for observed in each.observed:
            checked.setdefault(observed.slot, observed)
    checked = checked_together(checked, Given(state.machine, {}).nominal_v)
    usable = {name: observed for name, observed in checked.items() if observed.usable}
    given = Given(state.machine, usable)
    failed = {each.step.name for each in earlier or () if each.state == "fail" or each.unproven}
    statuses = []
    for step in sheet.step:
        if step.name == AFTER_REPAIR:
            continue
        if step.name in carried:
            statuses.append(carried[step.name])
        else:
            status = _status(step, given, checked, kept, sheet, number)
            statuses.append(
                dataclasses.replace(status, unproven=status.state == "skipped" and step.name in failed)
            )
    never_done = {each.step.name for each in earlier or () if each.open} - ALWAYS_REPEATED
    statuses.append(_after_repair(sheet, statuses, number, never_done))
    return given, tuple(statuses)


def _due(before: StepStatus, kept: RoundState) -> bool:
    """Whether a step is to be done (again) in a round after a repair."""
    names = {slot.name for slot in before.step.slot}
    if names & set(kept.readings) or before.step.name in kept.skipped:
        return True
    if before.state == "does_not_apply":
        return False
    if before.unproven:
        return True
    return before.state not in _SETTLED or (before.step.name in ALWAYS_REPEATED and before.state != "skipped")


def _checked(observed: Observed, sheet: Sheet, machine: MachineCard) -> Observed:
    step = sheet.step_of_slot(observed.slot)
    slot = step.slot_named(observed.slot) if step is not None else None
    if slot is None or observed.troubles:
        return observed
    return replace(observed, troubles=plausibility(observed, slot, machine))


def _status(
    step: Step, given: Given, checked: dict[str, Observed], kept: RoundState, sheet: Sheet, number: int
) -> StepStatus:
    observed = tuple(checked[slot.name] for slot in step.slot if slot.name in checked)
    missing = _missing(step, checked)
    if not sheet.applies(step, given.machine) and not observed:
        alternator = given.machine.alternator
        why = f"it does not apply to this alternator ({alternator.words if alternator else 'unknown'})"
        return StepStatus(step, "does_not_apply", None, (), (), why, number)
    if step.name in kept.skipped:
        return StepStatus(step, "skipped", None, observed, (), kept.skipped[step.name], number)
    if not observed:
        return StepStatus(step, "open", None, (), missing, "", number)
    judgement = judge_step(step, given, observed)
    never_read = any(slot.name not in checked for slot in missing)
    whole = not never_read or judgement.verdict == "cut_short"
    return StepStatus(
        step, judgement.verdict if whole else "partial", judgement, observed, missing, "", number
    )


def _missing(step: Step, checked: dict[str, Observed]) -> tuple[Slot, ...]:
    """What is still to be read; a slip of instrument or set-up leaves its reading to be taken again."""
    read = {
        name for name, each in checked.items() if not any(trouble.kind.is_a_slip for trouble in each.troubles)
    }
    stood_in = {slot.instead_of for slot in step.slot if slot.name in read}
    return tuple(
        slot
        for slot in step.slot
        if not slot.optional
        and slot.instead_of is None
        and slot.name not in read
        and slot.name not in stood_in
    )


def _after_repair(
    sheet: Sheet, steps: Sequence[StepStatus], number: int, never_done: Collection[str]
) -> StepStatus:
    """The step that stands for all that is repeated; a test that was not done before is no part of the proof."""
    step = sheet.step_named(AFTER_REPAIR)
    if step is None:
        raise ValueError("the sheet has no step for after the repair")
    if number == 1:
        return StepStatus(step, "does_not_apply", None, (), (), "nothing was repaired yet", number)
    repeated = [
        each
        for each in steps
        if each.round == number
        and each.state != "does_not_apply"
        and not (each.open and each.step.name in never_done)
    ]
    states = {each.state for each in repeated}
    if any(each.open for each in repeated):
        return StepStatus(step, "open", None, (), (), "", number)
    verdict: StepState = "pass"
    if any(each.unproven for each in repeated):
        verdict = "not_judged"
    for worse in ("not_judged", "too_close", "cut_short", "fail"):
        if worse in states:
            verdict = worse
    return StepStatus(step, verdict, None, (), (), "", number)


def _next(steps: Sequence[StepStatus], diagnosis: Diagnosis, sheet: Sheet) -> tuple[Step | None, str]:
    """An unfinished test first; then the one that tells the leading faults apart; then the sheet's order.

    Last come those that an engine's stop cut short.
    """
    todo = [each for each in steps if each.open and each.step.name != AFTER_REPAIR]
    for each in todo:
        if each.state == "partial":
            return each.step, "It is begun and not finished."
    for each in todo:
        if each.judgement is not None:
            names = " and ".join(slot.title for slot in each.missing)
            return each.step, f"{names[:1].upper()}{names[1:]} can't be judged as read: read again."
    proposed = diagnosis.next_test
    if proposed is not None and todo:
        return sheet.step_named(proposed.step), proposed.reason
    if todo:
        return todo[0].step, "It is the next on the sheet."
    for each in steps:
        if each.state == "cut_short":
            return each.step, "The engine stopped in it: it is done again once the engine runs."
    if diagnosis.leading is not None and diagnosis.leading.name == INSTRUMENT_ERROR:
        named = " ".join(diagnosis.leading.supports)
        return (
            None,
            f"All tests are done, but readings do not fit together: repeat them, nothing is to be repaired. {named}",
        )
    if diagnosis.leading is not None:
        return sheet.step_named(AFTER_REPAIR), f"All tests are done. Likeliest: {diagnosis.leading.title}."
    return None, "All tests are done."


def _recording_troubles(state: JobState) -> tuple[str, ...]:
    """What is wrong with recordings, of whatever round: a test that is due again does not show it any more."""
    kinds = {TroubleKind.RECORDING_CHANGED, TroubleKind.RECORDING_MISSING}
    said = [
        trouble.text
        for kept in state.rounds
        for reading in kept.readings.values()
        for trouble in reading.observed.troubles
        if trouble.kind in kinds
    ]
    return tuple(dict.fromkeys(said))


def _changed_verdicts(state: JobState, rounds: Mapping[int, Sequence[StepStatus]]) -> tuple[str, ...]:
    said = []
    for number, steps in rounds.items():
        kept = state.rounds[number - 1]
        judged = {each.step.name: each.state for each in steps if each.round == number}
        for name, line in kept.said.items():
            now = judged.get(name)
            if now is not None and line.verdict != now:
                said.append(
                    f"The job file says {line.verdict.replace('_', ' ')!r} for {name.replace('_', ' ')}; its readings "
                    f"say {now.replace('_', ' ')!r}. The readings count."
                )
    return tuple(said)
