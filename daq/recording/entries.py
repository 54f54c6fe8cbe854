"""What stands in a recording, line by line. Format version 2; described in recordings/README.md.

A reading is an array ``[channel, time, value or null, quality]``; everything
else is an object with an ``entry`` that says what it is. A reading's time is in
microseconds (version 1: nanoseconds), ``t_ns`` of an entry in nanoseconds; both
count from the session's start.
"""

from __future__ import annotations

from typing import Any

import msgspec

from daq.model.quantity import Quantity
from daq.model.reading import Reading

__all__ = [
    "FORMAT_VERSION",
    "TICK_NS",
    "UNKNOWN_START",
    "ChannelEntry",
    "ClockEntry",
    "CloseEntry",
    "Entry",
    "EventEntry",
    "Line",
    "MachineEntry",
    "MarkEntry",
    "SessionEntry",
    "StepEntry",
]

FORMAT_VERSION = 2
TICK_NS = {1: 1, 2: 1000}
"""By format version: nanoseconds in one unit of a reading's time.

Microseconds are finer than any stamp of a serial port or a radio, and save three digits a reading.
"""
UNKNOWN_START = "1970-01-01T00:00:00Z"
"""``started_utc`` of a session whose start is not known, such as an imported log that counts from 0."""


class _Entry(msgspec.Struct, frozen=True, tag_field="entry", kw_only=True):
    pass


class SessionEntry(_Entry, tag="session", frozen=True, kw_only=True):
    """First line of every recording."""

    version: int = FORMAT_VERSION
    program: str
    """Name and version of the program that wrote it."""
    started_utc: str
    """RFC 3339, at ``t_ns`` 0; ``UNKNOWN_START`` where it is not known."""
    source: str
    """"run", "demo" or "import"."""
    note: str = ""


class MachineEntry(_Entry, tag="machine", frozen=True, kw_only=True):
    """The machine card in use, whole."""

    card: dict[str, Any]


class ChannelEntry(_Entry, tag="channel", frozen=True, kw_only=True):
    """One channel, before its first reading."""

    channel: int
    quantity: Quantity
    unit: str
    instrument: str
    """Name that is unique in this recording, such as "scpi-meter" or "text-volts-2"."""
    address: str
    card: dict[str, Any]
    """The instrument card in use, whole."""
    card_channel: int
    """Which of the card's channels this is, counted from 0."""


class EventEntry(_Entry, tag="event", frozen=True, kw_only=True):
    """Something that happened to the run."""

    t_ns: int
    kind: str
    """"link_lost", "link_back", "silent", "junk", "loss", "stall", "standstill", "refused" or "note"."""
    text: str
    """A sentence for a mechanic."""
    instrument: str | None = None


class MarkEntry(_Entry, tag="mark", frozen=True, kw_only=True):
    """A person's mark."""

    t_ns: int
    text: str


class StepEntry(_Entry, tag="step", frozen=True, kw_only=True):
    """A step of the job sheet changed its state."""

    t_ns: int
    step: str
    state: str
    text: str = ""


class ClockEntry(_Entry, tag="clock", frozen=True, kw_only=True):
    """Both clocks read together, once a minute: a jump of the wall clock or a sleep shows here."""

    t_ns: int
    utc: str


class CloseEntry(_Entry, tag="close", frozen=True, kw_only=True):
    """Last line of a recording that was closed properly."""

    t_ns: int
    reason: str
    readings: int
    digest: str
    """"sha256:" and the hex digest of every byte before this line."""


Entry = (
    SessionEntry | MachineEntry | ChannelEntry | EventEntry | MarkEntry | StepEntry | ClockEntry | CloseEntry
)
Line = Reading | Entry
"""A line that starts with ``[`` is a reading, one that starts with ``{`` an entry: decode by that byte."""
