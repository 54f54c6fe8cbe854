"""Every failure a user can meet, as one tree.

::

    SpinvoltError                 the base: str() is a sentence for a mechanic
    ├── CardError                 an instrument or machine card is missing, malformed or absurd
    ├── DriverError               a driver plugin could not be loaded or does not know the protocol
    ├── TransportError            the way to the instrument; carries ``reason``
    ├── RecordingError            a recording can't be read: empty, not one, too new, changed
    ├── JobError                  a job file can't be read: it is none, or too new
    ├── ImportLogError            a CSV log can't be taken in; carries ``line``
    ├── OutputError               an output file can't be written: it exists, no room, no permission
    └── UsageError                what was asked for makes no sense (exit status 2)

Misuse of the programming interface raises Python's own exceptions and is
never caught. Overload, hold and low battery are qualities of a reading, not
exceptions.
"""

from __future__ import annotations

from enum import Enum

__all__ = [
    "CardError",
    "DriverError",
    "ImportLogError",
    "JobError",
    "OutputError",
    "RecordingError",
    "SpinvoltError",
    "TransportError",
    "TransportReason",
    "UsageError",
]


class SpinvoltError(Exception):
    """Something failed; the text says what, with what value, and what to do next."""


class CardError(SpinvoltError):
    """An instrument card or machine card was missing, malformed or absurd."""


class DriverError(SpinvoltError):
    """A driver plugin could not be loaded, or no driver knows the protocol."""


class TransportReason(Enum):
    """Why the way to an instrument is closed; the front end maps each to one next step."""

    NOT_FOUND = "not_found"
    BUSY = "busy"
    NOT_PERMITTED = "not_permitted"
    UNREACHABLE = "unreachable"
    LINK_LOST = "link_lost"
    BAD_ADDRESS = "bad_address"
    UNAVAILABLE = "unavailable"
    OTHER = "other"


class TransportError(SpinvoltError):
    """The way to the instrument failed.

    Attributes:
        reason: what kind of failure it was.
        address: the address as the user gave it.
    """

    def __init__(self, message: str, *, reason: TransportReason, address: str) -> None:
        super().__init__(message)
        self.reason = reason
        self.address = address


class RecordingError(SpinvoltError):
    """A recording could not be opened or understood."""


class JobError(SpinvoltError):
    """A job file could not be opened or understood."""


class ImportLogError(SpinvoltError):
    """A CSV log could not be taken in.

    Attributes:
        line: line number in the log, counted from 1, or None where no line is to blame.
    """

    def __init__(self, message: str, *, line: int | None = None) -> None:
        super().__init__(message)
        self.line = line


class OutputError(SpinvoltError):
    """An output file could not be written."""


class UsageError(SpinvoltError):
    """What was asked for makes no sense; the command line exits with status 2."""
