"""Recordings that were made for a job and not taken in: the program was closed before it could, or something failed."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from daq.errors import RecordingError, SpinvoltError
from daq.job.sheet.steps import load_sheet

if TYPE_CHECKING:
    from daq.job.job import Job
    from daq.job.plan import RecordingPlan
    from daq.job.status import JobStatus

__all__ = ["LeftOver", "left_over", "with_what_is_left"]


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
    known = _taken_in(status)
    slots = {s.name: step.name for step in load_sheet().step for s in step.slot if s.quantity is not None}
    for path in sorted(job.parent.glob("*.jsonl")):
        if path in given_up or path.name in known or not path.name.startswith(f"{job.stem}-"):
            continue
        step, _, rest = path.stem.removeprefix(f"{job.stem}-").partition("-")
        slot = rest.partition("-")[0]
        if slots.get(slot) == step:
            return LeftOver(path, step, slot)
    return None


def with_what_is_left(error: SpinvoltError, job: Job, plan: RecordingPlan, path: Path) -> SpinvoltError:
    """A failure, with where that which was recorded lies, that it was not taken in, and what to do next.

    Args:
        error: what went wrong while a recording was made or taken in.
        job: the job that it was made for.
        plan: what it was made for.
        path: the recording; what is said stays as it is where there is none, or where it was taken in.
    """
    if not path.exists() or path.name in _taken_in(job.status()):
        return error
    what = " and ".join(slot.name for slot in plan.slots)
    was = "were" if len(plan.slots) > 1 else "was"
    text = f"{error} What was recorded is in {path}, and {what} {was} not taken from it. Record it again"
    if not isinstance(error, RecordingError):  # one that can't be read can't be read the next time either
        reading = _word(path) if len(plan.slots) > 1 else f"{plan.slots[0].name}={_word(path)}"
        text += f", or take it from that file: spinvolt job next {_word(job.path)} --step {plan.step.name} {reading}"
        return type(error)(text)
    return type(error)(f"{text}.")


def _taken_in(status: JobStatus) -> set[str]:
    """The names of the recordings that the job refers to."""
    return {
        kept.recording.path.rpartition("/")[2]
        for each in status.state.rounds
        for kept in (*each.readings.values(), *each.earlier)
        if kept.recording is not None
    }


def _word(path: Path) -> str:
    """A path as one word of a command."""
    text = str(path)
    return f'"{text}"' if any(each.isspace() for each in text) else text
