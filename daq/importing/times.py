"""The time column of a log: seconds, Unix time, or ISO 8601; all as integer nanoseconds."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from enum import Enum

from daq.importing.numbers import DecimalMarkError, NumberError, NumberReader, TooLongError
from daq.recording.lines import clean_text

__all__ = ["TimeError", "TimeKind", "TimeReader"]

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)
_UNITS_NS = {"s": 10**9, "ms": 10**6, "us": 10**3, "µs": 10**3, "ns": 1, "min": 60 * 10**9}
_UNIT = re.compile(r"[\[(]\s*+(\w++)\s*+[\])]\s*+$|_([^\W_]++)$")
_ISO_CHARACTERS = re.compile(r"[0-9TtZzW:.,+ -]+")
_FURTHER_DIGITS = re.compile(r"[.,]\d{6}(\d{1,3})")
_LATEST_NS = 4 * 10**18
"""Unix time in the year 2096. What is later as seconds must count something smaller."""
_EARLIEST_UNIX_NS = 10**18
"""Unix time in the year 2001. From here on a count is taken for Unix time."""


class TimeError(ValueError):
    """A cell holds no time that can be right; the text is for a sentence that names file and line."""


class TimeKind(Enum):
    """What the times of a log count from; ``value`` says it in words."""

    RELATIVE = "seconds from a start of its own"
    UNIX = "Unix time"
    ZONED = "ISO 8601 with a time zone"
    LOCAL = "ISO 8601 without a time zone, taken as UTC"

    @property
    def absolute(self) -> bool:
        """Whether the moment is known, and not only the distance."""
        return self is not TimeKind.RELATIVE


class TimeReader:
    """Reads the times of one log; the first decides what kind they are.

    Attributes:
        kind: what they are; None before the first.
    """

    def __init__(self, header: str, numbers: NumberReader) -> None:
        """Start a log.

        Args:
            header: the column's header; a unit in it, such as "Time [ms]", is heeded.
            numbers: reads the log's numbers.
        """
        found = _UNIT.search(header)
        unit = (found[1] or found[2]).lower() if found is not None else ""
        self._unit_ns = _UNITS_NS.get(unit)
        self._numbers = numbers
        self.kind: TimeKind | None = None

    def read(self, text: str) -> int:
        """Nanoseconds: since 1970 in UTC where the moment is known, else as the log counts.

        Raises:
            TimeError: it is no time, or another kind than the times before it.
        """
        text = text.strip()
        if not text:
            raise TimeError("the time is missing")
        try:
            number = self._numbers.read(text)
        except (DecimalMarkError, TooLongError) as error:
            raise TimeError(str(error)) from error
        except NumberError:
            number = None
        if number is None:
            t_ns, kind = _iso_ns(text)
        else:
            t_ns, kind = self._count_ns(number)
        if self.kind is None:
            self.kind = kind
        if kind is not self.kind and not (number is not None and self.kind is TimeKind.RELATIVE):
            raise TimeError(
                f"the time {clean_text(text, limit=40)!r} is written another way; others are {self.kind.value}"
            )
        return t_ns

    def _count_ns(self, number: str) -> tuple[int, TimeKind]:
        count = abs(float(number))
        if self._unit_ns is None:  # seconds, unless it can only be Unix time in ms, µs or ns
            self._unit_ns = next((u for u in (10**9, 10**6, 10**3) if count * u <= _LATEST_NS), 1)
        if count * self._unit_ns > _LATEST_NS:
            raise TimeError(f"the time {clean_text(number, limit=40)} can't be right")
        kind = TimeKind.UNIX if count * self._unit_ns >= _EARLIEST_UNIX_NS else TimeKind.RELATIVE
        return int((Decimal(number) * self._unit_ns).to_integral_value()), kind


def _iso_ns(text: str) -> tuple[int, TimeKind]:
    try:
        if _ISO_CHARACTERS.fullmatch(text) is None:
            raise ValueError(text)  # the standard reader takes any character between date and time
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise TimeError(
            f"{clean_text(text, limit=40)!r} is no time; seconds or ISO 8601 such as 2026-05-04T10:30:00.5 are taken"
        ) from error
    kind = TimeKind.LOCAL if moment.tzinfo is None else TimeKind.ZONED
    if not 1970 < moment.year < 2200:
        raise TimeError(f"the year {moment.year} can't be right")
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    further = _FURTHER_DIGITS.search(text)
    below_microsecond = int(further[1].ljust(3, "0")) if further is not None else 0
    return (moment - _EPOCH) // _MICROSECOND * 1000 + below_microsecond, kind
