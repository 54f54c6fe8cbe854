"""A report on a job."""

from __future__ import annotations

from datetime import datetime

from daq.job.charge.budget import Carries, output_points
from daq.job.charge.output_curve import OutputCurve
from daq.job.job import Job
from daq.job.judging.verdicts import Line
from daq.job.repeats import grouped
from daq.job.status import JobStatus, StepStatus
from daq.job.summary import JobSummary, summarise
from daq.job.summary_answer import Answer
from daq.job.summary_parts import ReadingSummary, TestSummary
from daq.report.content import Badge, Fact, Fault, Figure, Instrument, Judged, NotDone, Page, Question, Test
from daq.report.figures.output_load import output_against_loads
from daq.report.job_comparison import job_comparison
from daq.report.job_figures import step_figures
from daq.report.recording_notes import job_notes, warnings_of
from daq.report.words import badge_of, program, quantity_words

__all__ = ["job_page"]

_CARRIES: dict[Carries | str, Badge] = {
    "yes": Badge("Yes", "good"),
    "no": Badge("No", "bad"),
    "too_close": Badge("Too close to call", "unsure"),
    "not_known": Badge("Not known yet", "unsure"),
    "does_not_charge": Badge("Charges no battery", "none"),
}
_PROVEN = {
    "yes": Badge("Yes", "good"),
    "no": Badge("No", "bad"),
    "open": Badge("Not yet", "unsure"),
    "not_repaired": Badge("Nothing repaired", "none"),
}


def job_page(job: Job, now: datetime) -> Page:
    """The page on a job.

    Args:
        job: open.
        now: when the report is made, aware, UTC.
    """
    status = job.status()
    summary = summarise(status, now)
    notes = job_notes(job)
    return Page(
        title="Report on the charging system",
        machine_title=summary.machine_title,
        headline=summary.answer.headline,
        badge=_overall(summary.answer),
        questions=_questions(summary.answer),
        warnings=(*summary.troubles, *warnings_of(notes)),
        machine=tuple(Fact(fact.label, fact.value, fact.source) for fact in summary.machine),
        open_points=summary.open_points,
        tests=_tests(job, summary.tests, status.steps, "test"),
        comparison=job_comparison(job, summary, _tests(job, summary.tests_before, status.before, "before")),
        faults=tuple(
            Fault(fault.title, fault.named, fault.supports, fault.contradicts, fault.remedy)
            for fault in summary.faults
        ),
        next_steps=_next_steps(status, summary),
        budget=summary.budget,
        budget_figures=_budget_figures(status),
        not_done=tuple(NotDone(each.title, each.reason) for each in summary.not_tested),
        instruments=tuple(
            Instrument(each.name, quantity_words(each.measured), each.accuracy, each.source)
            for each in summary.instruments
        ),
        cautions=summary.cautions,
        method=summary.method,
        sources=summary.sources,
        recordings=notes,
        notes=summary.notes,
        began=_minute(summary.started_utc),
        made=f"{now:%Y-%m-%d %H:%M} UTC",
        program=program(),
    )


def _overall(answer: Answer) -> Badge:
    if answer.fault or answer.carries == "no" or answer.proven == "no":
        return Badge("Not in order", "bad")
    good = answer.carries in {"yes", "does_not_charge"} and answer.proven in {"yes", "not_repaired"}
    if good and answer.complete and answer.fault_sentence.startswith("No fault"):
        return Badge("In order", "good")
    return Badge("Open", "unsure")


def _questions(answer: Answer) -> tuple[Question, ...]:
    fault = Badge("A fault is named", "bad") if answer.fault else Badge("None named", "good")
    if not answer.fault and (not answer.complete or not answer.fault_sentence.startswith("No fault")):
        fault = Badge("None named yet", "unsure")
    asked = [
        Question("Can it carry its loads?", _CARRIES[answer.carries], answer.carries_sentence),
        Question("What is at fault?", fault, answer.fault_sentence),
    ]
    proven = answer.proven_sentence or "Nothing was repaired in this job."
    return (*asked, Question("Is the repair proven?", _PROVEN[answer.proven], proven))


def _tests(
    job: Job, tests: tuple[TestSummary, ...], steps: tuple[StepStatus, ...], prefix: str
) -> tuple[Test, ...]:
    by_name = {each.step.name: each for each in steps}
    return tuple(
        _test(job, test, by_name[test.name], f"{prefix}-{test.name.replace('_', '-')}") for test in tests
    )


def _test(job: Job, test: TestSummary, step: StepStatus, anchor: str) -> Test:
    return Test(
        anchor=anchor,
        title=test.title,
        badge=badge_of(test.state),
        purpose=test.purpose,
        rows=tuple(_row(line) for line in test.lines),
        reasons=test.run_reasons,
        notes=(*grouped(note for reading in test.readings for note in reading.notes), *_passed_over(test)),
        causes=test.stop_causes,
        taken=tuple(_taken(reading) for reading in test.readings),
        acceptance=test.acceptance,
        tells=test.tells,
        figures=step_figures(job, step, anchor),
    )


def _passed_over(test: TestSummary) -> tuple[str, ...]:
    if not test.passed_over:
        return ()
    return (f"Passed over, and can still be taken: {'; '.join(test.passed_over)}.",)


def _row(line: Line) -> Judged:
    return Judged(line.title, line.reading, line.limit, badge_of(line.verdict), line.sentence)


def _taken(reading: ReadingSummary) -> str:
    said = [reading.title[:1].upper() + reading.title[1:]]
    if not (reading.slot == "output" and reading.origin.endswith(".jsonl")):
        said[0] += f": {reading.text}"  # of a run the median alone would mislead
    if reading.speed and reading.speed != "0 rpm":
        said.append(f"at {reading.speed}")
    said.append(reading.origin if not reading.instrument else f"{reading.origin}, {reading.instrument}")
    if reading.utc:
        said.append(_minute(reading.utc))
    return ", ".join(said)


def _next_steps(status: JobStatus, summary: JobSummary) -> tuple[str, ...]:
    said = []
    if summary.rivals:
        said.append(f"About as likely: {'; '.join(summary.rivals)}.")
    if status.next_step is not None:
        said.append(f"Next: {status.next_step.title}. {status.next_reason}")
    return tuple(said)


def _budget_figures(status: JobStatus) -> tuple[Figure, ...]:
    budget = status.budget
    if budget is None:
        return ()
    curve = OutputCurve(output_points(status.given, budget.drawn.all_on))
    drawn = output_against_loads(curve, budget, status.state.machine, "output-against-loads")
    return (drawn,) if drawn is not None else ()


def _minute(utc: str) -> str:
    """An RFC 3339 time to the minute, as people read it; what is none stays as it is."""
    if len(utc) >= 16 and utc[10:11] == "T" and utc.endswith("Z"):
        return f"{utc[:10]} {utc[11:16]} UTC"
    return utc
