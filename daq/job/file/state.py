"""What the lines of a job file come to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from daq.cards.machine import MachineCard
from daq.errors import JobError
from daq.job.evidence.observed import Observed
from daq.job.file.entries import (
    JobEntry,
    MachineLine,
    NoteLine,
    ReadingLine,
    RecordingRef,
    RepairLine,
    SkipLine,
    VerdictLine,
)
from daq.job.file.journal import Journal
from daq.job.file.sanity import line_trouble, observed_of
from daq.job.file.troubles import Fault, FileTrouble, LineTroubles
from daq.job.sheet.steps import Sheet, Step

__all__ = ["JobState", "KeptReading", "Resolver", "RoundState", "replay"]

Resolver = Callable[[RecordingRef, Observed, Step, MachineCard], Observed]
"""Looks a recording up again: gives the reading as it stands now, with what is wrong with the file."""


@dataclass(frozen=True)
class KeptReading:
    """A reading and where in the file it stands."""

    line: int
    utc: str
    instrument: str
    recording: RecordingRef | None
    typed: str | None
    observed: Observed


@dataclass
class RoundState:
    """One round: before the first repair, or after one."""

    readings: dict[str, KeptReading] = field(default_factory=dict)
    """By slot; the last one taken counts."""
    earlier: list[KeptReading] = field(default_factory=list)
    """Readings that were taken again."""
    skipped: dict[str, str] = field(default_factory=dict)
    """Reason by step."""
    said: dict[str, VerdictLine] = field(default_factory=dict)
    """The verdict written down last, by step."""


@dataclass
class JobState:
    """Everything a job file says."""

    path: Path
    head: JobEntry
    machine: MachineCard
    rounds: list[RoundState]
    repairs: list[RepairLine]
    notes: list[NoteLine]
    troubles: list[FileTrouble]
    """What could not be taken from the file; one for each kind."""

    @property
    def round(self) -> int:
        """The current round, counted from 1."""
        return len(self.rounds)

    @property
    def current(self) -> RoundState:
        """The current round's state."""
        return self.rounds[-1]


def replay(journal: Journal, sheet: Sheet, resolve: Resolver) -> JobState:
    """Go through the lines in their order.

    Args:
        journal: the file as read.
        sheet: the tests there are.
        resolve: looks up a recording that a reading comes from.

    Raises:
        JobError: the file holds no machine card that can be used.
    """
    troubles = LineTroubles(journal.path.name)
    machine = _last_machine(journal, troubles)
    state = JobState(journal.path, journal.head, machine, [RoundState()], [], [], [])
    for number, line in journal.lines[1:]:
        problem = line_trouble(line, sheet, state.round)
        if problem is None and isinstance(line, ReadingLine):
            problem = _take_reading(state, number, line, sheet, resolve)
        if problem is not None:
            troubles.add(number, problem)
        elif isinstance(line, SkipLine):
            state.rounds[line.round - 1].skipped[line.step] = line.reason
        elif isinstance(line, VerdictLine):
            state.rounds[line.round - 1].said[line.step] = line
        elif isinstance(line, NoteLine):
            state.notes.append(line)
        elif isinstance(line, RepairLine):
            state.repairs.append(line)
            state.rounds.append(RoundState())
    state.troubles = [*journal.troubles, *troubles.found()]
    return state


def _last_machine(journal: Journal, troubles: LineTroubles) -> MachineCard:
    found: MachineCard | None = None
    for number, line in journal.lines:
        if not isinstance(line, MachineLine):
            continue
        try:
            found = msgspec.convert(line.card, MachineCard)
        except msgspec.ValidationError as error:
            troubles.add(number, Fault("card", f"holds a machine card that can't be: {error}"), "left aside")
    if found is None:
        raise JobError(
            f"{journal.path.name} holds no machine card that can be used; start the job anew with one."
        )
    return found


def _take_reading(
    state: JobState, number: int, line: ReadingLine, sheet: Sheet, resolve: Resolver
) -> Fault | None:
    """Take a reading in, or tell why it makes no sense."""
    step = sheet.step_named(line.step)
    if step is None:
        return None
    observed = observed_of(line, step, state.machine)
    if isinstance(observed, Fault):
        return observed
    if line.recording is not None:
        observed = resolve(line.recording, observed, step, state.machine)
    kept = KeptReading(number, line.utc, line.instrument, line.recording, line.typed, observed)
    into = state.rounds[line.round - 1]
    before = into.readings.get(line.slot)
    if before is not None:
        into.earlier.append(before)
    into.readings[line.slot] = kept
    into.skipped.pop(line.step, None)
    # What was said before this reading was said of others; a program killed in between leaves it without a verdict.
    into.said.pop(line.step, None)
    return None
