"""A job told in lines of text: the next test, a judged test, where the job stands, and the whole of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from tui.text import clean

if TYPE_CHECKING:
    from daq.job.sheet.steps import Slot, Step
    from daq.job.status import JobStatus, StepStatus
    from daq.job.summary import JobSummary

__all__ = ["STATE_WORDS", "judged_lines", "next_lines", "status_lines", "step_lines", "summary_lines"]

STATE_WORDS = {
    "pass": "pass",
    "fail": "FAIL",
    "too_close": "too close to call",
    "no_limit": "no limit",
    "not_judged": "not judged",
    "cut_short": "cut short",
    "open": "open",
    "partial": "begun",
    "skipped": "skipped",
    "does_not_apply": "does not apply",
}
_LONG = 2000


def next_lines(status: JobStatus, file: str) -> Iterator[str]:
    """The next test in full, or that there is none."""
    from daq.job.sheet.steps import AFTER_REPAIR
    from daq.job.status import INSTRUMENT_ERROR

    step = status.next_step
    if step is None or step.name == AFTER_REPAIR:
        yield from _passed_over_lines(status, file)
    if step is None:
        yield f"{status.next_reason} `spinvolt job report {file}` tells the whole job."
        return
    leading = status.diagnosis.leading
    if leading is not None and leading.name == INSTRUMENT_ERROR:
        yield f"Likeliest so far: {leading.title}. Nothing is to be repaired: the readings named are taken again."
    elif leading is not None and step.name != AFTER_REPAIR:
        yield f'Likeliest so far: {leading.title}. Once it is repaired: spinvolt job next {file} --repaired "what"'
    yield f"Next: {step.title}. {clean(status.next_reason, _LONG)}"
    yield ""
    if step.name == AFTER_REPAIR:
        yield from _repair_lines(status, file)
        return
    yield from step_lines(status, step, file)


def _passed_over_lines(status: JobStatus, file: str) -> Iterator[str]:
    """Optional readings that were not taken: asked for once more when all else is done."""
    left = [each for each in status.steps if each.passed_over]
    if left:
        yield "Passed over so far, each may still be taken:"
    for each in left:
        for slot in each.passed_over:
            yield f"  {slot.title}: spinvolt job next {file} --step {each.step.name} {slot.name}=VALUE"


def _repair_lines(status: JobStatus, file: str) -> Iterator[str]:
    leading = status.diagnosis.leading
    if leading is not None:
        yield from (f"  + {clean(reason, _LONG)}" for reason in leading.supports)
        yield from (f"  - {clean(reason, _LONG)}" for reason in leading.contradicts)
        yield f"  {leading.remedy}"
    yield f'When it is repaired: spinvolt job next {file} --repaired "what was done"'


def step_lines(status: JobStatus, step: Step, file: str) -> Iterator[str]:
    """One test: purpose, cautions, set-up, and each reading that is still to be taken."""
    from daq.job.sheet.meter_moves import DIAL, meter_move

    yield f"{step.title.upper()} ({step.name})"
    yield f"Purpose: {step.purpose}"
    yield "Cautions:"
    yield from (f"  ! {caution}" for caution in status.sheet.cautions_of(step))
    yield "Set-up:"
    yield from (f"  - {each}" for each in step.setup)
    where = status.step(step.name)
    done = {observed.slot for observed in where.observed} - {slot.name for slot in where.missing}
    yield "Readings:"
    before: Slot | None = None
    for slot in step.slot:
        if slot.name in done:
            continue
        yield f"  {slot.name}: {slot.title}{_rank(slot)}"
        yield f"      {' '.join(meter_move(before, slot))}"
        # A tach or a thermometer leaves the meter as it was.
        before = slot if slot.quantity is None or slot.quantity in DIAL else before
    yield f"Passes: {step.acceptance}"
    yield f"Tells: {step.tells}"
    yield f"Type it in: spinvolt job next {file} {_example(step, done)}"
    yield f"Or record it: spinvolt job next {file} -i CARD@ADDRESS (give all instruments at hand)"
    yield f"Or from a recording: spinvolt job next {file} RUN.jsonl"
    yield f'Or leave it out: spinvolt job next {file} --skip "why"'


def _rank(slot: Slot) -> str:
    if slot.instead_of is not None:
        return f" (instead of {slot.instead_of})"
    return " (if you can)" if slot.optional else ""


def _example(step: Step, done: set[str]) -> str:
    forms = {"V": "12.61", "A": "3.2", "ohm": "0.25", "rpm": "3600", "degC": "20", "": "0"}
    slots = [
        slot
        for slot in step.slot
        if slot.name not in done and slot.instead_of is None and slot.kind != "watch"
    ]
    slots = slots or [slot for slot in step.slot if slot.kind == "count"] or list(step.slot)
    words = []
    for slot in slots[:2]:
        words.append(f'{slot.name}="19.6 3580"' if slot.kind == "run" else f"{slot.name}={forms[slot.unit]}")
    return " ".join(words)


def judged_lines(each: StepStatus) -> Iterator[str]:
    """A test as it was judged."""
    yield f"{each.step.title}: {STATE_WORDS[each.state]}{f' ({clean(each.reason)})' if each.reason else ''}"
    for line in each.judgement.lines if each.judgement is not None else ():
        limit = f" [{clean(line.limit)}]" if line.limit else ""
        yield f"  {STATE_WORDS[line.verdict]:<18}{clean(line.title)}: {clean(line.reading)}{limit}"
        yield f"  {'':<18}{clean(line.sentence, _LONG)}"
    from daq.job.repeats import grouped

    notes = grouped(note for observed in each.observed for note in observed.notes)
    yield from (f"  {'note':<18}{clean(note, _LONG)}" for note in notes)
    if any(observed.stop is not None and observed.troubles for observed in each.observed):
        yield from _stop_lines()
    if each.missing:
        yield f"  still to be read: {', '.join(slot.name for slot in each.missing)}"
    if each.passed_over:
        names = ", ".join(slot.name for slot in each.passed_over)
        yield f"  passed over: {names}; to add it later: job next FILE --step {each.step.name} NAME=VALUE"


def _stop_lines() -> Iterator[str]:
    from daq.job.streams.stopping import STOP_CAUSES

    yield "  The engine stopped in a test that was cut short. Usual causes:"
    for cause in STOP_CAUSES:
        yield f"  - {cause.cause}: {cause.look} {cause.caution}"


def status_lines(status: JobStatus) -> Iterator[str]:
    """Where the job stands."""
    from daq.job.charge.budget_words import budget_sentence
    from daq.job.repeats import grouped
    from daq.job.summary_answer import answer_of

    machine = status.state.machine
    yield f"{clean(machine.title)} ({clean(machine.name)})"
    yield answer_of(status).headline
    for each in status.steps:
        if each.state != "does_not_apply":
            yield f"  {STATE_WORDS[each.state]:<18}{each.step.title}"
    if any(each.state == "cut_short" for each in status.steps):
        yield from _stop_lines()
    yield from _fault_lines(status)
    if status.budget is not None:
        yield clean(budget_sentence(status.budget), _LONG)
    yield from (f"Job file: {clean(each, _LONG)}" for each in grouped(status.troubles))
    if status.next_step is not None:
        yield f"Next: {status.next_step.title}. {clean(status.next_reason, _LONG)}"


def _fault_lines(status: JobStatus) -> Iterator[str]:
    for fault in [each for each in status.diagnosis.faults if each.named][:3]:
        yield f"Fault: {fault.title}"
        yield from (f"  + {clean(reason, _LONG)}" for reason in fault.supports)
        yield from (f"  - {clean(reason, _LONG)}" for reason in fault.contradicts)


def summary_lines(summary: JobSummary) -> Iterator[str]:
    """The whole job as text."""
    from daq.job.repeats import grouped

    answer = summary.answer
    yield answer.headline
    for sentence in (answer.carries_sentence, answer.fault_sentence, answer.proven_sentence):
        if sentence:
            yield f"  {clean(sentence, _LONG)}"
    yield from _block(
        f"Machine: {summary.machine_title}",
        [*(f"{fact.label}: {fact.value} ({fact.source})" for fact in summary.machine), *summary.open_points],
    )
    for test in summary.tests:
        lines = [
            f"{STATE_WORDS[line.verdict]}: {line.title}: {line.reading}. {line.sentence}"
            for line in test.lines
        ]
        lines += grouped(note for reading in test.readings for note in reading.notes)
        lines += [reason for reason in test.run_reasons if "kept out" in reason]
        lines += [f"passed over: {title}" for title in test.passed_over]
        yield from _block(f"{test.title}: {STATE_WORDS[test.state]}", [*lines, *test.stop_causes])
    yield from _block("Not tested", [f"{each.title}: {each.reason}" for each in summary.not_tested])
    for fault in summary.faults:
        reasons = [*(f"+ {each}" for each in fault.supports), *(f"- {each}" for each in fault.contradicts)]
        yield from _block(f"Fault: {fault.title}", [*reasons, fault.remedy])
    yield from _block("Charge budget", list(summary.budget))
    changes = [
        f"{each.title}: {each.before} before, {each.after} after"
        + (
            f" ({each.change}, {'significant' if each.significant else 'not significant'})"
            if each.change
            else ""
        )
        for each in summary.changes
    ]
    yield from _block("Before and after", [*(f"Repaired: {each.text}" for each in summary.repairs), *changes])
    instruments = [
        f"{each.name}, {each.measured}: {each.accuracy} ({each.source})" for each in summary.instruments
    ]
    yield from _block("Instruments", instruments)
    yield from _block("Recordings", [f"{each.path}  {each.digest}" for each in summary.recordings])
    yield from _block("Notes", [*summary.notes, *grouped(summary.troubles)])
    yield from _block("Cautions", list(summary.cautions))
    yield from _block("Method and sources", [*summary.method, *summary.sources])


def _block(title: str, lines: list[str]) -> Iterator[str]:
    if not lines:
        return
    yield ""
    yield clean(title, _LONG)
    yield from (f"  {clean(line, _LONG)}" for line in lines)
