"""What stands in a job file, line by line. Format version 1.

A job file is a journal in JSON Lines: every line is an object with an ``entry``
that says what it is, lines are only ever added, and the state of the job is
what they come to. So a job can be stopped at any point and picked up days later,
and a line that was spoiled by hand spoils itself only.
"""

from __future__ import annotations

from typing import Any

import msgspec

__all__ = [
    "JOB_VERSION",
    "JobEntry",
    "JobLine",
    "MachineLine",
    "NoteLine",
    "ReadingLine",
    "RecordingRef",
    "RepairLine",
    "SkipLine",
    "VerdictLine",
]

JOB_VERSION = 1


class _Line(msgspec.Struct, frozen=True, tag_field="entry", kw_only=True):
    pass


class JobEntry(_Line, tag="job", frozen=True, kw_only=True):
    """First line of every job file."""

    version: int = JOB_VERSION
    program: str
    """Name and version of the program that began it."""
    started_utc: str
    """RFC 3339."""
    note: str = ""


class MachineLine(_Line, tag="machine", frozen=True, kw_only=True):
    """The machine card in use, whole. A later one takes its place."""

    utc: str
    card: dict[str, Any]


class RecordingRef(msgspec.Struct, frozen=True, kw_only=True):
    """A recording that a reading comes from."""

    path: str
    """From the job file's folder."""
    digest: str
    """"sha256:" and the hex digest of the whole file."""


class ReadingLine(_Line, tag="reading", frozen=True, kw_only=True):
    """One reading of one slot."""

    utc: str
    round: int
    """1 before any repair, one more after each."""
    step: str
    slot: str
    typed: str | None = None
    """As it was typed."""
    recording: RecordingRef | None = None
    instrument: str = ""
    """Card of the instrument, by name; "" where it wasn't told."""
    observed: dict[str, Any]
    """An :class:`daq.job.evidence.observed.Observed`, as it was found then."""


class SkipLine(_Line, tag="skip", frozen=True, kw_only=True):
    """A test left out, with the reason."""

    utc: str
    round: int
    step: str
    reason: str


class NoteLine(_Line, tag="note", frozen=True, kw_only=True):
    """A person's note."""

    utc: str
    text: str
    step: str = ""


class RepairLine(_Line, tag="repair", frozen=True, kw_only=True):
    """Something was repaired: a new round begins."""

    utc: str
    text: str


class VerdictLine(_Line, tag="verdict", frozen=True, kw_only=True):
    """What was said of a step when its readings came in; judged anew whenever the file is opened."""

    utc: str
    round: int
    step: str
    verdict: str
    text: str = ""


JobLine = JobEntry | MachineLine | ReadingLine | SkipLine | NoteLine | RepairLine | VerdictLine
