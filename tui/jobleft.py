"""Recordings that were made for a job and never taken in, because the program was closed before it could."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from daq.job.sheet.steps import load_sheet

if TYPE_CHECKING:
    from daq.job.status import JobStatus

__all__ = ["LeftOver", "left_over"]


class LeftOver(NamedTuple):
    """A recording, and what it was made for."""

    path: Path
    step: str
    slot: str


def left_over(job: Path, status: JobStatus, given_up: Collection[Path] = ()) -> LeftOver | None:
    """The oldest recording beside the job file that bears its name and stands nowhere in it.

    Such a name is the job's, the test's and the reading's, as :func:`tui.jobrecord.recording_path` gives it.

    Args:
        job: the job file.
        status: where the job stands.
        given_up: recordings that were tried and could not be read.
    """
    known = {
        kept.recording.path.rpartition("/")[2]
        for each in status.state.rounds
        for kept in (*each.readings.values(), *each.earlier)
        if kept.recording is not None
    }
    slots = {s.name: step.name for step in load_sheet().step for s in step.slot if s.quantity is not None}
    for path in sorted(job.parent.glob("*.jsonl")):
        if path in given_up or path.name in known or not path.name.startswith(f"{job.stem}-"):
            continue
        step, _, rest = path.stem.removeprefix(f"{job.stem}-").partition("-")
        slot = rest.partition("-")[0]
        if slots.get(slot) == step:
            return LeftOver(path, step, slot)
    return None
