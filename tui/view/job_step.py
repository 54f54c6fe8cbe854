"""One test of a job in full: what was read and what it says, what is to be read and how, and what it is for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from daq.model.counted import times
from tui.jobtext import STATE_WORDS
from tui.text import clean
from tui.view.job_state import NextThing, Role, Section, Sentence

if TYPE_CHECKING:
    from daq.job.evidence.observed import Observed
    from daq.job.judging.verdicts import Line, StepVerdict
    from daq.job.sheet.steps import Slot
    from daq.job.status import JobStatus, StepStatus

__all__ = ["reading_words", "step_sections", "what_to_see_to"]

_LONG = 2000
_VERDICTS: dict[StepVerdict, tuple[str, Role]] = {
    "pass": ("✓", "good"),
    "fail": ("✗", "bad"),
    "too_close": ("≈", "doubt"),
    "no_limit": ("–", "quiet"),
    "not_judged": ("?", "doubt"),
    "cut_short": ("◌", "doubt"),
}


def step_sections(status: JobStatus, each: StepStatus, next_: NextThing) -> tuple[Section, ...]:
    """A test in full, the most needful first.

    Args:
        status: of the job.
        each: the test.
        next_: what Enter does with it.
    """
    step = each.step
    head = Section(step.title.upper(), tuple(_head(status, each)))
    sections = [
        Section("What it says", tuple(_said(each))),
        Section("Readings", tuple(_readings(each, next_))),
    ]
    if each.open or not step.slot:
        sections += [
            Section("Set-up", _numbered(step.setup)),
            Section("Cautions", _cautions(status, each)),
        ]
    about = (
        Sentence(step.purpose, "text"),
        Sentence(f"Passes: {step.acceptance}", "text"),
        Sentence(f"Tells: {step.tells}", "text"),
    )
    sections.append(Section("What for", about))
    return (head, *(section for section in sections if section.sentences))


def what_to_see_to(status: JobStatus, each: StepStatus, slots: tuple[Slot, ...]) -> tuple[Section, ...]:
    """What must be seen to before readings are taken: where leads and dial go, the set-up, the cautions."""
    from daq.job.sheet.meter_moves import engine_words, meter_move

    *moves, _ = meter_move(None, slots[0])
    engine = " Then: ".join(dict.fromkeys(engine_words(slot.engine) for slot in slots))
    return (
        Section("Leads, dial, engine", tuple(Sentence(move, "strong", "▶") for move in (*moves, engine))),
        Section("Set-up", _numbered(each.step.setup)),
        Section("Cautions", _cautions(status, each)),
    )


def _head(status: JobStatus, each: StepStatus) -> Iterator[Sentence]:
    following = status.next_step is not None and status.next_step.name == each.step.name
    if following and status.next_reason:
        yield Sentence(clean(status.next_reason, _LONG), "dim")
    if each.state == "skipped":
        yield Sentence(f"Skipped: {clean(each.reason, _LONG)}", "quiet", "–")
    if not each.step.slot and following and status.diagnosis.leading is not None:
        yield Sentence(status.diagnosis.leading.remedy, "strong", "▶")


def _said(each: StepStatus) -> Iterator[Sentence]:
    lines = each.judgement.lines if each.judgement is not None else ()
    for line in lines:
        yield from _line(line)
    said = {line.sentence for line in lines}
    for observed in each.observed:
        untold = [trouble.text for trouble in observed.troubles if trouble.text not in said]
        yield from (Sentence(clean(text, _LONG), "doubt", "?") for text in untold)
        kept_out = observed.rated.reasons if observed.rated is not None else ()
        told = (*observed.notes, *(reason for reason in kept_out if "kept out" in reason))
        yield from (Sentence(clean(note, _LONG), "dim", "") for note in told)
    if any(observed.stop is not None and observed.troubles for observed in each.observed):
        yield from _stopped()


def _line(line: Line) -> Iterator[Sentence]:
    shape, role = _VERDICTS[line.verdict]
    yield Sentence(f"{clean(line.title)}: {clean(line.reading)}, {STATE_WORDS[line.verdict]}", role, shape)
    if line.limit:
        yield Sentence(f"Limit: {clean(line.limit)}", "dim")
    yield Sentence(clean(line.sentence, _LONG), "text")


def _stopped() -> Iterator[Sentence]:
    from daq.job.streams.stopping import STOP_CAUSES

    yield Sentence("Usual causes of an engine that stops:", "strong")
    for cause in STOP_CAUSES:
        yield Sentence(f"{cause.cause}: {cause.look} {cause.caution}", "text", "!")


def _readings(each: StepStatus, next_: NextThing) -> Iterator[Sentence]:
    """Each reading with its value; under the one to be taken now, where the leads and the dial go."""
    from daq.job.sheet.meter_moves import meter_move

    taken = {observed.slot: observed for observed in each.observed}
    now = set(next_.slots) if next_.step == each.step.name else set()
    first = True
    for slot in each.step.slot:
        observed = taken.get(slot.name)
        if observed is not None:
            shape, role = _taken(observed)
            yield Sentence(f"{slot.title}: {reading_words(observed)}", role, shape)
        elif slot.name in now:
            yield Sentence(f"{slot.title}{_rank(slot)}", "strong", "▶")
            if first:
                yield from (Sentence(move, "strong") for move in meter_move(None, slot))
            first = False
        else:
            yield Sentence(f"{slot.title}{_rank(slot)}", "dim", "○")


def _taken(observed: Observed) -> tuple[str, Role]:
    return ("✓", "text") if observed.usable else ("?", "doubt")


def reading_words(observed: Observed) -> str:
    """A reading in words: "12.61 ± 0.03 V", "over range", "3 times"."""
    from daq.job.words import amount

    if observed.rated is not None and observed.rated.rated_voltage_v is not None:
        return f"{observed.rated.full_words} at {observed.rated.rated_speed_rpm:.0f} rpm"
    if observed.overload:
        return "over range"
    if observed.value is None:
        return "no reading"
    if observed.quantity is None:
        return times(round(observed.value))
    return amount(observed.value, observed.u, observed.quantity.unit)


def _rank(slot: Slot) -> str:
    if slot.instead_of is not None:
        return " (by hand, where it can't be recorded)"
    return " (if you can)" if slot.optional else ""


def _cautions(status: JobStatus, each: StepStatus) -> tuple[Sentence, ...]:
    return tuple(Sentence(caution, "doubt", "!") for caution in status.sheet.cautions_of(each.step))


def _numbered(sentences: tuple[str, ...]) -> tuple[Sentence, ...]:
    return tuple(Sentence(text, "text", str(place)) for place, text in enumerate(sentences, 1))
