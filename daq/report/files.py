"""What is to be reported: which of the files is a job, which are recordings."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path

import msgspec

from daq.cards.machine import MachineCard
from daq.errors import UsageError
from daq.job.job import Job
from daq.model.clock import Clock
from daq.ordinary import open_ordinary
from daq.run.recorded import RecordedRun, open_recording

__all__ = ["Inputs", "check_target", "open_inputs"]

_FIRST_LINE_BYTES = 1024 * 1024


@dataclass(frozen=True)
class Inputs:
    """The files, opened."""

    job: Job | None
    runs: tuple[RecordedRun, ...]
    """Recordings that were named; those that belong to the job are not among them."""

    @property
    def paths(self) -> list[Path]:
        """All files that the report is made from, the recordings of the job among them."""
        named = [run.recording.path for run in self.runs]
        return named if self.job is None else [self.job.path, *_recordings_of(self.job), *named]


class _Probe(msgspec.Struct):
    entry: str


def open_inputs(
    paths: Sequence[Path], clock: Clock, progress: Callable[[float], None] | None = None
) -> Inputs:
    """Open a job, recordings, or both.

    Args:
        paths: at least one.
        clock: for the job.
        progress: called with the part read, from 0 to 1.

    Raises:
        UsageError: none was named, one was named twice, or two jobs.
        JobError: a job file can't be read.
        RecordingError: a recording can't be opened.
    """
    if not paths:
        raise UsageError("Name a recording or a job file to report on.")
    _check_once(paths)
    jobs = [path for path in paths if _is_job(path)]
    if len(jobs) > 1:
        raise UsageError(
            f"{jobs[0].name} and {jobs[1].name} are both job files: make a report for each of them."
        )
    job = Job.open(jobs[0], clock) if jobs else None
    known = _recordings_of(job) if job is not None else []
    further = [path for path in paths if path not in jobs and not _among(path, known)]
    runs = [
        _opened(path, job.machine if job is not None else None, place, len(further), progress)
        for place, path in enumerate(further)
    ]
    return Inputs(job, tuple(runs))


def check_target(target: Path, inputs: Sequence[Path]) -> None:
    """Refuse to write a report over what it reports on.

    Raises:
        UsageError: it would.
    """
    for path in inputs:
        if _same_file(target, path):
            raise UsageError(
                f"{target.name} is {path.name} itself, which the report is made from; give the page another name."
            )


def _opened(
    path: Path,
    machine: MachineCard | None,
    place: int,
    count: int,
    progress: Callable[[float], None] | None,
) -> RecordedRun:
    tell = (lambda part: progress((place + part) / count)) if progress is not None else None
    run = open_recording(path, tell)
    if machine is not None and run.recording.machine is None:
        return RecordedRun(run.recording, machine)
    return run


def _recordings_of(job: Job) -> list[Path]:
    references = [
        kept.recording
        for round_ in job.status().state.rounds
        for kept in (*round_.earlier, *round_.readings.values())
    ]
    return [job.shelf.path_of(each.path) for each in references if each is not None]


def _is_job(path: Path) -> bool:
    """Whether its first line is that of a job; what is neither is left to the recording's reader to refuse."""
    try:
        with BufferedReader(open_ordinary(path)) as file:
            line = file.readline(_FIRST_LINE_BYTES)
        return msgspec.json.decode(line, type=_Probe).entry == "job"
    except (OSError, msgspec.MsgspecError, ValueError, RecursionError):
        return False


def _check_once(paths: Sequence[Path]) -> None:
    for place, path in enumerate(paths):
        if _among(path, paths[:place]):
            raise UsageError(f"{path.name} is named twice; name each file once.")


def _among(path: Path, others: Sequence[Path]) -> bool:
    return any(_same_file(path, other) for other in others)


def _same_file(one: Path, other: Path) -> bool:
    try:
        return os.path.samefile(one, other)
    except (OSError, ValueError):
        # A path that a job file holds may be none at all, such as one with a zero byte.
        return False
