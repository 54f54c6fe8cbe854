"""The files that a report rests on: whole or cut off, as they were or changed, with their digests."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from daq.errors import SpinvoltError
from daq.job.job import Job
from daq.ordinary import file_digest
from daq.report.content import Badge, RecordingNote
from daq.report.words import quantity_words
from daq.run.recorded import RecordedRun

__all__ = ["job_notes", "run_note", "warnings_of"]

_WHOLE = Badge("Whole", "good")
_GONE = Badge("Not there", "bad")
_CHANGED = Badge("Changed", "bad")
_UNREADABLE = Badge("Can't be read", "bad")


def run_note(run: RecordedRun) -> RecordingNote:
    """A recording that was named."""
    recording = run.recording
    badge, sentences = _state(run)
    digest = _digest_of(recording.path)
    return RecordingNote(recording.path.name, _used_for(run), badge, sentences, digest)


def job_notes(job: Job) -> tuple[RecordingNote, ...]:
    """The job file and each recording that its readings come from, once."""
    used: dict[tuple[str, str], list[str]] = {}
    state = job.status().state
    for number, round_ in enumerate(state.rounds, start=1):
        for kept in (*round_.earlier, *round_.readings.values()):
            if kept.recording is not None:
                words = f"{kept.observed.slot.replace('_', ' ')}{'' if number == 1 else ', after the repair'}"
                used.setdefault((kept.recording.path, kept.recording.digest), []).append(words)
    own = RecordingNote(job.path.name, "the job itself", _job_badge(job), (), _digest_of(job.path))
    return (
        own,
        *(
            _job_note(job, path, digest, tuple(dict.fromkeys(words)))
            for (path, digest), words in sorted(used.items())
        ),
    )


def warnings_of(notes: Sequence[RecordingNote]) -> tuple[str, ...]:
    """What is wrong with them, to stand on top of the page."""
    return tuple(f"{note.name}: {sentence}" for note in notes for sentence in note.sentences)


def _job_badge(job: Job) -> Badge:
    return Badge("With troubles", "unsure") if job.status().state.troubles else _WHOLE


def _job_note(job: Job, path: str, digest: str, used: tuple[str, ...]) -> RecordingNote:
    words = "; ".join(used)
    try:
        now = job.shelf.digest(path)
    except FileNotFoundError:
        text = "It is not where it was when it was read; what was read from it stands in the job file."
        return RecordingNote(path, words, _GONE, (text,), f"{digest} when it was read")
    except OSError as error:
        text = f"It can't be read: {error.strerror}; what was read from it stands in the job file."
        return RecordingNote(path, words, _UNREADABLE, (text,), f"{digest} when it was read")
    if now != digest:
        text = "It was changed since it was read: what was read from it is kept, and not judged."
        return RecordingNote(path, words, _CHANGED, (text,), f"{now} now, {digest} when it was read")
    try:
        badge, sentences = _state(job.shelf.run(job.shelf.path_of(path), job.machine))
    except SpinvoltError as error:
        return RecordingNote(path, words, _UNREADABLE, (str(error),), digest)
    return RecordingNote(path, words, badge, sentences, digest)


def _state(run: RecordedRun) -> tuple[Badge, tuple[str, ...]]:
    problems = tuple(run.recording.problems)
    if run.recording.complete:
        return _WHOLE, problems
    if run.recording.close is None:
        return Badge("Cut off", "unsure"), problems
    return Badge("Not as it was closed", "bad"), problems


def _used_for(run: RecordedRun) -> str:
    quantities = dict.fromkeys(quantity_words(c.entry.quantity.value) for c in run.data.channels)
    return ", ".join(quantities) or "no channels"


def _digest_of(path: Path) -> str:
    try:
        return file_digest(path)
    except OSError:
        return "can't be read any more"
