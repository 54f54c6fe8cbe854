"""A job's status in, everything the job screen shows out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from tui.jobtext import STATE_WORDS
from tui.text import clean
from tui.view.job_next import next_thing
from tui.view.job_state import JobView, Section, Sentence, StepRow
from tui.view.job_step import step_sections
from tui.view.state import Tone

if TYPE_CHECKING:
    from collections.abc import Collection

    from daq.job.diagnosis.rank import RankedFault
    from daq.job.status import JobStatus, StepStatus
    from daq.model.quantity import Quantity

__all__ = ["SHORTEST_WORDS", "STATE_SHAPES", "STATE_TONES", "job_view"]

STATE_SHAPES = {
    "pass": "✓",
    "fail": "✗",
    "too_close": "≈",
    "no_limit": "–",
    "not_judged": "?",
    "cut_short": "◌",
    "open": "○",
    "partial": "◌",
    "skipped": "–",
}
STATE_TONES: dict[str, Tone] = {
    "pass": "good",
    "fail": "bad",
    "too_close": "doubt",
    "no_limit": "quiet",
    "not_judged": "doubt",
    "cut_short": "doubt",
    "open": "quiet",
    "partial": "doubt",
    "skipped": "quiet",
}
_BEFORE_DETAIL = re.compile(r"[,:]| and ")
_SHORT_WORDS = {"too_close": "too close"}
SHORTEST_WORDS = {
    "pass": "pass",
    "fail": "fail",
    "open": "open",
    "too_close": "near",
    "no_limit": "read",
    "not_judged": "void",
    "cut_short": "cut",
    "partial": "part",
    "skipped": "skip",
}
_MOST_FAULTS = 3
_ANSWER_TONES: dict[str, Tone] = {"yes": "good", "no": "bad", "too_close": "doubt"}
_LONG = 2000


def job_view(
    status: JobStatus,
    readable: Collection[Quantity],
    chosen: str | None = None,
    left_over: str = "",
) -> JobView:
    """Work out everything the job screen shows.

    Args:
        status: where the job stands.
        readable: what the instruments at hand can read; none: readings are typed.
        chosen: the test to show in full; None: the next one to do.
        left_over: name of a recording that was made for this job and not taken in, or "".
    """
    shown = [each for each in status.steps if each.state != "does_not_apply"]
    names = [each.step.name for each in shown]
    following = status.next_step.name if status.next_step is not None else ""
    at = chosen if chosen in names else following or names[-1]
    step = status.step(at)
    done = sum(not each.open for each in shown)
    next_ = next_thing(status, step, readable, left_over, by_itself=chosen not in names)
    return JobView(
        heading=f"job: {clean(status.state.machine.title)}",
        status=f"{done} of {len(shown)} tests done",
        answer=_answer(status),
        rows=tuple(_row(each, at, following) for each in shown),
        step=step_sections(status, step, next_),
        found=tuple(section for section in _found(status, shown) if section.sentences),
        next=next_,
        skippable=step.open and bool(step.step.slot),
        finished=status.next_step is None,
    )


def _row(each: StepStatus, at: str, following: str) -> StepRow:
    words = _SHORT_WORDS.get(each.state, STATE_WORDS[each.state]).lower()
    short = SHORTEST_WORDS[each.state]
    is_next = each.step.name == following
    begins = is_next and each.state == "open"
    return StepRow(
        name=each.step.name,
        shape=STATE_SHAPES[each.state],
        title=_BEFORE_DETAIL.split(each.step.title)[0],
        words="next" if begins else words,
        short="next" if begins else short,
        tone=STATE_TONES[each.state],
        chosen=each.step.name == at,
        next=is_next,
    )


def _answer(status: JobStatus) -> tuple[Sentence, ...]:
    from daq.job.summary_answer import answer_of

    answer = answer_of(status)
    tone: Tone = _ANSWER_TONES.get(answer.carries, "quiet")
    if answer.fault or answer.proven == "no":
        tone = "bad"
    elif answer.proven == "yes":
        tone = "good"
    shape = {"good": "✓", "bad": "✗", "doubt": "≈", "quiet": "○"}[tone]
    return (Sentence(clean(answer.headline, _LONG), tone, shape),)


def _found(status: JobStatus, shown: list[StepStatus]) -> Iterator[Section]:
    from daq.job.charge.budget_words import budget_lines
    from daq.job.repeats import grouped

    yield Section("Leading faults", tuple(_faults(status)))
    budget = status.budget
    words = budget_lines(budget)[:4] if budget is not None else ()
    yield Section("Can it carry its loads?", tuple(Sentence(clean(each, _LONG)) for each in words))
    yield Section("Less likely", tuple(_less_likely(status)))
    yield Section("Verdicts so far", tuple(_verdicts(shown)))
    yield Section("Repaired", tuple(Sentence(clean(each.text, _LONG)) for each in status.state.repairs))
    yield Section("Notes", tuple(Sentence(clean(each.text, _LONG), "dim") for each in status.state.notes))
    troubles = tuple(Sentence(clean(each, _LONG), "doubt", "≈") for each in grouped(status.troubles))
    yield Section("About the job file", troubles)
    yield Section("Passed over, can still be taken", tuple(_passed_over(shown)))


def _faults(status: JobStatus) -> Iterator[Sentence]:
    named = [each for each in status.diagnosis.faults if each.named][:_MOST_FAULTS]
    if not named:
        judged = any(each.judgement is not None for each in status.steps)
        yield Sentence("None so far." if judged else "Nothing was tested yet.", "dim")
    for place, fault in enumerate(named, 1):
        yield Sentence(clean(fault.title), "bad", str(place))
        yield from _reasons(fault, remedy=place == 1)


def _less_likely(status: JobStatus) -> Iterator[Sentence]:
    """Faults for which something speaks, and more against them."""
    unlikely = [each for each in status.diagnosis.faults if not each.named and each.contradicts]
    for fault in unlikely[:_MOST_FAULTS]:
        yield Sentence(clean(fault.title), "quiet", "–")
        yield from (Sentence(clean(each, _LONG), "dim", "-") for each in fault.contradicts)


def _reasons(fault: RankedFault, *, remedy: bool) -> Iterator[Sentence]:
    yield from (Sentence(clean(each, _LONG), "text", "+") for each in fault.supports)
    yield from (Sentence(clean(each, _LONG), "dim", "-") for each in fault.contradicts)
    if remedy and fault.remedy:
        yield Sentence(clean(fault.remedy, _LONG), "strong", "▶")


def _passed_over(shown: list[StepStatus]) -> Iterator[Sentence]:
    for each in shown:
        titles = "; ".join(slot.title.partition(" (")[0] for slot in each.passed_over)
        if titles:
            yield Sentence(f"{_BEFORE_DETAIL.split(each.step.title)[0]}: {titles}", "dim", "○")


def _verdicts(shown: list[StepStatus]) -> Iterator[Sentence]:
    for each in shown:
        if each.open and each.judgement is None:
            continue
        tone = STATE_TONES[each.state]
        yield Sentence(f"{each.step.title}: {STATE_WORDS[each.state]}", tone, STATE_SHAPES[each.state])
        for line in each.judgement.lines if each.judgement is not None else ():
            if line.verdict != "pass":
                yield Sentence(clean(line.sentence, _LONG), "dim")
