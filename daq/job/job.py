"""A job on a machine: its file, its readings, and where it stands."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import msgspec

from daq.cards.instrument import InstrumentCard
from daq.cards.machine import MachineCard
from daq.errors import OutputError, UsageError
from daq.job.evidence.fitting import fits, fitting
from daq.job.evidence.observed import Observed
from daq.job.evidence.recorded import observe_recording
from daq.job.evidence.typed import typed_observation
from daq.job.file.entries import (
    JobEntry,
    JobLine,
    MachineLine,
    NoteLine,
    ReadingLine,
    RecordingRef,
    RepairLine,
    SkipLine,
    VerdictLine,
)
from daq.job.file.hold import Hold
from daq.job.file.journal import Journal, create_journal, read_journal
from daq.job.file.recordings import RecordingShelf, observed_in
from daq.job.file.state import Resolver, replay
from daq.job.plan import RecordingPlan
from daq.job.sheet.steps import AFTER_REPAIR, Slot, Step, load_sheet
from daq.job.status import JobStatus, StepStatus, job_status
from daq.model.clock import Clock
from daq.model.progress import one_of, stretch, unheard
from daq.model.quantity import Quantity
from daq.run.recorded import RecordedRun

__all__ = ["Job"]

_READ = 0.4
_OBSERVED = 0.7
"""About the parts that are done once a recording is read, and once its readings are found in it."""


class Job:
    """A job file that is open. Every change is on the disk before the method returns.

    Attributes:
        path: the job file.
        shelf: the recordings that it refers to.
    """

    def __init__(self, path: Path, clock: Clock) -> None:
        """Use :meth:`create` or :meth:`open`."""
        self.path = path
        self.shelf = RecordingShelf(path)
        self._clock = clock
        self._sheet = load_sheet()
        self._status: JobStatus | None = None
        self._read_at: tuple[int, int, int] | None = None
        self._hold: Hold | None = None

    @classmethod
    def create(
        cls,
        path: str | os.PathLike[str],
        machine: MachineCard,
        clock: Clock,
        *,
        note: str = "",
        force: bool = False,
    ) -> Job:
        """Begin a job.

        Raises:
            OutputError: the file exists and ``force`` is not given, or it can't be written.
        """
        utc = _utc(clock)
        lines: list[JobLine] = [
            JobEntry(program=_program(), started_utc=utc, note=note),
            MachineLine(utc=utc, card=msgspec.to_builtins(machine)),
        ]
        file = Path(path)
        # One that another process is writing is not taken away from under it.
        with Hold(file) if force and file.is_file() else nullcontext():
            create_journal(file, lines, force=force)
        return cls.open(file, clock)

    @classmethod
    def open(
        cls, path: str | os.PathLike[str], clock: Clock, progress: Callable[[float], None] = unheard
    ) -> Job:
        """Pick a job up again.

        Args:
            path: the job file.
            clock: what time it is.
            progress: called with the part of its recordings that has been read, from 0 to 1.

        Raises:
            JobError: it can't be read, or is no job file.
        """
        job = cls(Path(path), clock)
        job.status(progress)
        return job

    def status(self, progress: Callable[[float], None] = unheard) -> JobStatus:
        """Where the job stands; the same until something is added. ``progress`` as for :meth:`open`.

        Raises:
            JobError: the file can't be read any more.
        """
        if self._status is None:
            self._read_at = _stamp(self.path)
            journal = read_journal(self.path)
            resolve = _told(self.shelf, journal, progress)
            self._status = job_status(replay(journal, self._sheet, resolve), self._sheet)
        return self._status

    @contextmanager
    def held(self) -> Iterator[None]:
        """Keep other writers off the file while the body runs; what they added before is taken in first.

        Every change takes it for its own length; whoever does several things that belong together, such as
        a recording and the reading that comes of it, takes it around them. May be nested.

        Raises:
            OutputError: another process has it; says which.
        """
        if self._hold is not None:
            yield
            return
        with Hold(self.path) as hold:
            if _stamp(self.path) != self._read_at:
                self._status = None
            self._hold = hold
            try:
                yield
            finally:
                self._hold = None

    @property
    def machine(self) -> MachineCard:
        """The machine card in use."""
        return self.status().state.machine

    def step_named(self, name: str) -> Step:
        """A test of the sheet.

        Raises:
            UsageError: there is none of that name, or it has no readings of its own.
        """
        step = self._sheet.step_named(name)
        if step is None or step.name == AFTER_REPAIR:
            known = ", ".join(each.name for each in self._sheet.step if each.slot)
            raise UsageError(f"There is no test {name!r}; there are: {known}.")
        return step

    def slot_named(self, step: Step, name: str) -> Slot:
        """A reading of a test.

        Raises:
            UsageError: the test has none of that name; says where it belongs if another has.
        """
        slot = step.slot_named(name)
        if slot is not None:
            return slot
        other = self._sheet.step_of_slot(name)
        known = ", ".join(each.name for each in step.slot)
        if other is not None:
            raise UsageError(
                f"{name} belongs to the test {other.name}, not to {step.name}: give it with that one."
            )
        raise UsageError(f"The test {step.name} has no reading {name!r}; it has: {known}.")

    def type_reading(
        self, step_name: str, slot_name: str, text: str, instrument: InstrumentCard | None = None
    ) -> StepStatus:
        """Take a reading that was typed in.

        Raises:
            UsageError: no such test or reading, or the text is none.
            OutputError: the job file can't be written.
        """
        step = self.step_named(step_name)
        slot = self.slot_named(step, slot_name)
        with self.held():
            observed = typed_observation(text, slot, self.machine, instrument)
            return self._keep(step, [self._line(step, slot, observed, typed=text, instrument=instrument)])

    def attach_recording(
        self,
        step_name: str,
        path: str | os.PathLike[str],
        slot_names: Sequence[str] = (),
        progress: Callable[[float], None] = unheard,
    ) -> StepStatus:
        """Take a test's readings from a recording.

        Args:
            step_name: the test.
            path: the recording.
            slot_names: which readings; none: those of the test that the recording holds.
            progress: called with the part of all this that is done, from 0 to 1.

        Raises:
            UsageError: no such test or reading, or it can't be told which reading it is.
            RecordingError: the recording can't be opened.
            OutputError: the job file can't be written.
        """
        step, file = self.step_named(step_name), Path(path)
        run, reference = self._opened(file, stretch(progress, 0.0, _READ))
        slots = [self.slot_named(step, name) for name in slot_names] or list(step.slot)
        found = []
        for place, slot in enumerate(slots):
            told = one_of(stretch(progress, _READ, _OBSERVED), place, len(slots))
            found.append(observed_in(run, step, slot, self.machine, told))
        if not slot_names:
            found = fitting(found, step, self.status().step(step.name).missing, file.name)
        kept = self._keep_found(step, found, reference)
        progress(1.0)
        return kept

    def take_planned(self, plan: RecordingPlan, path: str | os.PathLike[str]) -> StepStatus:
        """Take the readings for which a recording was made, and the speed that was recorded with them.

        Readings that it does not hold (the engine never idled) stay to be taken. Where it holds none of
        them the first is kept with the reason.

        Raises:
            RecordingError: the recording can't be opened.
            OutputError: the job file can't be written.
        """
        file = Path(path)
        run, reference = self._opened(file)
        step, planned = plan.step, {slot.name for slot in plan.slots}
        speeds = [s for s in step.slot if s.quantity is Quantity.ROTATIONAL_SPEED and s.name not in planned]
        found = [observe_recording(run, step, slot, self.machine) for slot in plan.slots]
        good = [each for each in found if fits(each)]
        beside = [observe_recording(run, step, slot, self.machine) for slot in speeds] if good else []
        kept = [*(good or found[:1]), *(each for each in beside if each.usable)]
        return self._keep_found(step, kept, reference)

    def _opened(
        self, file: Path, progress: Callable[[float], None] = unheard
    ) -> tuple[RecordedRun, RecordingRef]:
        run = self.shelf.run(file, self.machine, progress)
        try:
            return run, self.shelf.reference(file)
        except OSError as error:
            raise OutputError(f"{file.name} can't be read: {error.strerror or error}.") from error

    def _keep_found(self, step: Step, found: Sequence[Observed], reference: RecordingRef) -> StepStatus:
        with self.held():
            lines = [
                self._line(step, self.slot_named(step, observed.slot), observed, recording=reference)
                for observed in found
            ]
            return self._keep(step, lines)

    def skip(self, step_name: str, reason: str) -> StepStatus:
        """Leave a test out.

        Raises:
            UsageError: no such test, or no reason.
        """
        step = self.step_named(step_name)
        if not reason.strip():
            raise UsageError("A test is skipped with a reason only: say in a few words why.")
        with self.held():
            self._add([SkipLine(utc=self._now(), round=self._round, step=step.name, reason=reason.strip())])
            return self.status().step(step.name)

    def note(self, text: str, step_name: str = "") -> None:
        """Write a note down."""
        step = self.step_named(step_name).name if step_name else ""
        self._add([NoteLine(utc=self._now(), text=text, step=step)])

    def repaired(self, text: str) -> None:
        """Something was repaired: what failed is due again.

        Raises:
            UsageError: it is not said what.
        """
        if not text.strip():
            raise UsageError("Say in a few words what was repaired.")
        self._add([RepairLine(utc=self._now(), text=text.strip())])

    @property
    def _round(self) -> int:
        return self.status().state.round

    def _now(self) -> str:
        return _utc(self._clock)

    def _line(
        self,
        step: Step,
        slot: Slot,
        observed: Observed,
        *,
        typed: str | None = None,
        recording: RecordingRef | None = None,
        instrument: InstrumentCard | None = None,
    ) -> ReadingLine:
        return ReadingLine(
            utc=self._now(),
            round=self._round,
            step=step.name,
            slot=slot.name,
            typed=typed,
            recording=recording,
            instrument=instrument.name if instrument is not None else "",
            observed=msgspec.to_builtins(observed),
        )

    def _keep(self, step: Step, lines: Sequence[JobLine]) -> StepStatus:
        """Write readings down, and with them what is said of the test once it is whole."""
        self._add(lines)
        status = self.status().step(step.name)
        if not status.open and status.judgement is not None:
            text = " ".join(line.sentence for line in status.judgement.lines)[:2000]
            verdict = VerdictLine(
                utc=self._now(), round=self._round, step=step.name, verdict=status.state, text=text
            )
            self._add([verdict])
        return self.status().step(step.name)

    def _add(self, lines: Sequence[JobLine]) -> None:
        with self.held():
            if self._hold is not None:
                self._hold.append(lines)
            self._status = None


def _told(shelf: RecordingShelf, journal: Journal, progress: Callable[[float], None]) -> Resolver:
    """Look recordings up, and tell how many of all that stand in a job file are done."""
    count = sum(isinstance(line, ReadingLine) and line.recording is not None for _, line in journal.lines)
    places = itertools.count()

    def looked_up(reference: RecordingRef, stored: Observed, step: Step, machine: MachineCard) -> Observed:
        told = one_of(progress, next(places), count)
        found = shelf.resolve(reference, stored, step, machine, told)
        told(1.0)
        return found

    return looked_up


def _stamp(path: Path) -> tuple[int, int, int] | None:
    """What tells one state of a file from another; None where it is not there."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns


def _utc(clock: Clock) -> str:
    return clock.utc().isoformat(timespec="seconds").replace("+00:00", "Z")


def _program() -> str:
    try:
        return f"spinvolt {version('spinvolt')}"
    except PackageNotFoundError:
        return "spinvolt"
