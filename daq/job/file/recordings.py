"""The recordings that a job's readings come from: found, checked by digest, and read again."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from pathlib import Path

import msgspec
from msgspec.structs import replace

from daq.cards.machine import MachineCard
from daq.errors import SpinvoltError
from daq.job.evidence.observed import Observed
from daq.job.evidence.recorded import observe_recording
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.file.digests import RecordingDigests
from daq.job.file.entries import RecordingRef
from daq.job.sheet.steps import Slot, Step
from daq.model.progress import stretch, unheard
from daq.run.recorded import RecordedRun, open_recording

__all__ = ["RecordingShelf", "observed_in"]

_READ = 0.4
"""About the part that reading has in reading and looking for a reading."""


class RecordingShelf:
    """Recordings beside a job file; each is opened once, and each reading looked for in it once."""

    def __init__(self, job_path: Path) -> None:
        self._folder = job_path.resolve().parent
        self._digests = RecordingDigests(self._folder)
        self._runs: dict[tuple[str, bytes], RecordedRun] = {}
        self._found: dict[tuple[str, str, str, str, bytes], Observed | SpinvoltError] = {}

    def reference(self, path: Path) -> RecordingRef:
        """How a job file names a recording: its path from the job file's folder, and its digest.

        Raises:
            OSError: it can't be read.
        """
        full = path.resolve()
        try:
            name = os.path.relpath(full, self._folder)
        except ValueError:
            # On another drive there is no way from here to there.
            name = str(full)
        return RecordingRef(path=name.replace(os.sep, "/"), digest=self._digests.of_file(full))

    def path_of(self, name: str) -> Path:
        """Where a recording should lie, by its name in the job file; not to be opened before its digest was right."""
        return self._folder / name

    def digest(self, name: str) -> str:
        """The digest of a recording as it is now, by its name in the job file; see :class:`RecordingDigests`.

        Raises:
            FileNotFoundError: no recording is there.
            OSError: it can't be read.
        """
        return self._digests.of_reference(name)

    def run(
        self, path: Path, machine: MachineCard, progress: Callable[[float], None] = unheard
    ) -> RecordedRun:
        """Open a recording with the job's machine card; ``progress`` is called with the part read, from 0 to 1.

        Raises:
            RecordingError: it can't be opened, or is none.
        """
        key = (str(path.resolve()), _card_key(machine))
        if key not in self._runs:
            self._runs[key] = open_recording(path, progress, machine=machine)
        return self._runs[key]

    def resolve(
        self,
        reference: RecordingRef,
        stored: Observed,
        step: Step,
        machine: MachineCard,
        progress: Callable[[float], None] = unheard,
    ) -> Observed:
        """The reading as the recording gives it now; ``progress`` is called with the part done, from 0 to 1.

        One that is missing or can't be read leaves the stored reading, with a note; a changed
        one is not judged; a stored reading that was changed by hand yields to the recording.
        """
        slot = step.slot_named(stored.slot)
        try:
            digest = self.digest(reference.path)
        except OSError as error:
            text = _not_read(reference.path, error)
            return replace(stored, notes=(*stored.notes, text))
        if digest != reference.digest:
            text = f"The recording {reference.path} was changed since it was read. Kept, not judged."
            return replace(stored, troubles=(*stored.troubles, Trouble(TroubleKind.RECORDING_CHANGED, text)))
        if slot is None:
            return stored
        found = self._look_for(reference, step, slot, machine, progress)
        if isinstance(found, SpinvoltError):
            trouble = Trouble(TroubleKind.RECORDING_MISSING, f"{found} Kept, not judged.")
            return replace(stored, troubles=(*stored.troubles, trouble))
        return _compared(found, stored)

    def _look_for(
        self,
        reference: RecordingRef,
        step: Step,
        slot: Slot,
        machine: MachineCard,
        progress: Callable[[float], None],
    ) -> Observed | SpinvoltError:
        """A reading in a recording, or why there is none; a job file may ask for the same a thousand times."""
        path = self.path_of(reference.path)
        key = (str(path.resolve()), reference.digest, step.name, slot.name, _card_key(machine))
        if key not in self._found:
            try:
                run = self.run(path, machine, stretch(progress, 0.0, _READ))
                self._found[key] = observed_in(run, step, slot, machine, stretch(progress, _READ, 1.0))
            except SpinvoltError as error:
                self._found[key] = error
        return self._found[key]


def observed_in(
    run: RecordedRun, step: Step, slot: Slot, machine: MachineCard, progress: Callable[[float], None]
) -> Observed:
    """A reading of a recording; ``progress`` is called with the part of the work that is done, from 0 to 1."""
    if slot.kind == "run":
        run.analysis(progress=progress)  # it is asked for the same one, and finds it done
    found = observe_recording(run, step, slot, machine)
    progress(1.0)
    return found


def _compared(found: Observed, stored: Observed) -> Observed:
    one, other = found.value, stored.value
    same = (
        one is other if one is None or other is None else math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-9)
    )
    if same and found.overload == stored.overload:
        return found
    text = f"The job file held another value than {found.origin} gives; the recording's is taken."
    return replace(found, notes=(*found.notes, text))


def _not_read(name: str, error: OSError) -> str:
    """Why a recording could not be looked into."""
    why = "is not there" if isinstance(error, FileNotFoundError) else f"can't be read ({error.strerror})"
    return f"The recording {name} {why}; the reading is as it was written into the job file."


def _card_key(machine: MachineCard) -> bytes:
    return msgspec.json.encode(machine)
