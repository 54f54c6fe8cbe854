"""A job as plain data for a report: the answer on top, then everything that it rests on.

Nothing here is laid out; every text is finished, in plain words, and free of markup.
"""

from __future__ import annotations

from datetime import datetime

import msgspec

from daq.cards.open_points import open_points
from daq.job.charge.budget_words import budget_lines
from daq.job.comparison import SlotChange, compare_rounds
from daq.job.diagnosis.next_test import NextTest
from daq.job.diagnosis.rank import RankedFault
from daq.job.diagnosis.table import load_table
from daq.job.sources import METHOD, SOURCES
from daq.job.status import JobStatus
from daq.job.summary_answer import Answer, answer_of
from daq.job.summary_parts import (
    InstrumentSummary,
    MachineFact,
    NotTested,
    RecordingSummary,
    TestSummary,
    instruments_of,
    machine_facts,
    not_tested,
    recordings_of,
    tests_of,
)

__all__ = ["JobSummary", "RepairSummary", "summarise"]


class RepairSummary(msgspec.Struct, frozen=True):
    """What was repaired, and when."""

    utc: str
    text: str


class JobSummary(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that a report says."""

    answer: Answer
    machine_name: str
    machine_title: str
    machine: tuple[MachineFact, ...]
    open_points: tuple[str, ...]
    """What the machine card leaves open, and what that costs."""
    tests: tuple[TestSummary, ...]
    """Done in the current round, or carried over into it."""
    tests_before: tuple[TestSummary, ...]
    """Those of the first round that were repeated since; () where nothing was repaired."""
    not_tested: tuple[NotTested, ...]
    faults: tuple[RankedFault, ...]
    rivals: tuple[str, ...]
    """Titles of faults about as likely as the leading one."""
    next_test: NextTest | None
    budget: tuple[str, ...]
    """The charge budget in sentences, plain words first; () where the machine charges nothing."""
    repairs: tuple[RepairSummary, ...]
    changes: tuple[SlotChange, ...]
    """Before and after, reading by reading."""
    instruments: tuple[InstrumentSummary, ...]
    cautions: tuple[str, ...]
    method: tuple[str, ...]
    sources: tuple[str, ...]
    recordings: tuple[RecordingSummary, ...]
    notes: tuple[str, ...]
    troubles: tuple[str, ...]
    """What is wrong with the job file or its recordings."""
    started_utc: str
    made_utc: str
    program: str


def summarise(status: JobStatus, now: datetime) -> JobSummary:
    """Put a job into plain data.

    Args:
        status: of the job.
        now: when the summary is made, aware.
    """
    state = status.state
    repaired = bool(state.repairs)
    leading = status.diagnosis.leading
    shown = [each for each in status.diagnosis.faults if each.score >= 1.0 or each is leading]
    return JobSummary(
        answer=answer_of(status),
        machine_name=state.machine.name,
        machine_title=state.machine.title,
        machine=machine_facts(state.machine),
        open_points=open_points(state.machine),
        tests=tests_of(status.steps, state),
        tests_before=tests_of([s for s in status.before if _repeated(s.step.name, status)], state)
        if repaired
        else (),
        not_tested=not_tested(status.steps),
        faults=tuple(shown),
        rivals=tuple(each.title for each in status.diagnosis.rivals(load_table().close_within)),
        next_test=status.diagnosis.next_test,
        budget=budget_lines(status.budget) if status.budget is not None else (),
        repairs=tuple(RepairSummary(each.utc, each.text) for each in state.repairs),
        changes=compare_rounds(status.before, status.steps) if repaired else (),
        instruments=instruments_of(state),
        cautions=_cautions(status),
        method=METHOD,
        sources=SOURCES,
        recordings=recordings_of(state),
        notes=tuple(f"{note.step + ': ' if note.step else ''}{note.text}" for note in state.notes),
        troubles=status.troubles,
        started_utc=state.head.started_utc,
        made_utc=now.isoformat(timespec="seconds").replace("+00:00", "Z"),
        program=state.head.program,
    )


def _repeated(name: str, status: JobStatus) -> bool:
    return status.step(name).round > 1


def _cautions(status: JobStatus) -> tuple[str, ...]:
    """Of all tests done or open, each once, in the sheet's order; the manual always comes first."""
    names = ["manual_first"]
    for each in status.steps:
        if each.state != "does_not_apply":
            names += each.step.cautions
    return tuple(status.sheet.caution[name] for name in dict.fromkeys(names))
