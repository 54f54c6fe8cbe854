"""The answer on top: can it carry its loads, what is at fault, is the repair proven."""

from __future__ import annotations

from typing import Literal

import msgspec

from daq.job.charge.budget import Carries
from daq.job.charge.budget_words import budget_sentence
from daq.job.sheet.steps import AFTER_REPAIR
from daq.job.status import ALWAYS_REPEATED, JobStatus

__all__ = ["Answer", "answer_of"]

Proven = Literal["not_repaired", "yes", "no", "open"]


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """Three answers and one headline."""

    headline: str
    carries: Carries | Literal["does_not_charge"]
    carries_sentence: str
    fault: str
    """Name of the likeliest fault; "" where none is named."""
    fault_sentence: str
    proven: Proven
    proven_sentence: str
    """"" where nothing was repaired."""
    complete: bool
    """Every test that applies was done or skipped with a reason."""


_CARRIES = {
    "yes": "It carries its loads",
    "no": "It does not carry its loads",
    "too_close": "Whether it carries its loads is too close to call",
    "not_known": "Whether it carries its loads is not known yet",
    "does_not_charge": "It charges no battery",
}


def answer_of(status: JobStatus) -> Answer:
    """Answer from what is known so far."""
    alternator = status.state.machine.alternator
    charges = alternator is None or alternator.charges
    carries: Carries | Literal["does_not_charge"] = "does_not_charge"
    if charges:
        carries = status.budget.carries if status.budget is not None else "not_known"
    open_steps = [each for each in status.steps if each.open]
    fault, fault_sentence = _fault(status, bool(open_steps))
    proven, proven_sentence = _proven(status)
    carried = _CARRIES[carries]
    if carries == "yes" and status.budget is not None and status.budget.idle_share is None:
        carried += " at work speed"  # the card has no duty: idling is not counted
    parts = [carried, fault_sentence.split(".")[0]]
    if proven_sentence:
        parts.insert(0, proven_sentence.split(":")[0].rstrip("."))
    return Answer(
        headline="; ".join([parts[0], *(part[0].lower() + part[1:] for part in parts[1:])]) + ".",
        carries=carries,
        carries_sentence=budget_sentence(status.budget) if charges else "It charges no battery.",
        fault=fault,
        fault_sentence=fault_sentence,
        proven=proven,
        proven_sentence=proven_sentence,
        complete=not open_steps,
    )


def _fault(status: JobStatus, more_to_do: bool) -> tuple[str, str]:
    leading = status.diagnosis.leading
    done = [each for each in status.steps if each.judgement is not None]
    if leading is None:
        if not done:
            return "", "Nothing was tested yet."
        failed = [each.step.title for each in done if each.state == "fail"]
        left_out = [each.step.title for each in status.steps if each.unproven]
        if left_out and not failed:
            return "", (
                f"What failed before the repair may still be there, for it was left out since: {', '.join(left_out)}."
            )
        if failed:
            return "", f"No one fault stands out, but this failed: {', '.join(failed)}."
        return "", "No fault was found" + (" in the tests done so far." if more_to_do else ".")
    sentence = f"Likeliest fault: {leading.title}."
    if leading.supports:
        sentence += f" {leading.supports[0]}"
    return leading.name, sentence


def _proven(status: JobStatus) -> tuple[Proven, str]:
    if not status.state.repairs:
        return "not_repaired", ""
    state = status.step(AFTER_REPAIR).state
    if state == "pass":
        return "yes", "The repair is proven: every test that failed before passes now."
    if state in {"open", "partial"}:
        before = {each.step.name for each in status.before if not each.open} | ALWAYS_REPEATED
        names = [
            each.step.title
            for each in status.steps
            if each.open and each.step.name in before - {AFTER_REPAIR}
        ]
        return "open", f"The repair is not proven yet: still to be repeated: {', '.join(names)}."
    return "no", f"The repair is not proven: {_what_is_missing(status)}."


def _what_is_missing(status: JobStatus) -> str:
    """What stands against the proof, test by test."""
    words = {"fail": "fails still", "too_close": "is too close to call", "cut_short": "was cut short"}
    repeated = [
        each for each in status.steps if each.round == status.state.round and each.step.name != AFTER_REPAIR
    ]
    said = [f"{each.step.title} {words[each.state]}" for each in repeated if each.state in words]
    said += [f"{each.step.title} was not judged" for each in repeated if each.state == "not_judged"]
    said += [
        f"{each.step.title} failed before it and was left out since" for each in status.steps if each.unproven
    ]
    return "; ".join(said) or "not every repeated test passes"
