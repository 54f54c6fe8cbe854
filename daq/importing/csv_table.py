"""Reads one column of a CSV log against its time column: RFC 4180, with the liberties that devices take."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from daq.errors import ImportLogError

__all__ = ["LogColumn", "read_log"]

_DELIMITERS = ";\t,"
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
_MISSING = {"", "-", "--", "---"}
_MOST_BYTES = 4 << 30
_SINCE_1970_S = 1e9
"""Counts beyond this are from 1970-01-01 UTC, as many loggers have them; no run is 30 years long."""


@dataclass(frozen=True)
class LogColumn:
    """One column of a log."""

    name: str
    time_s: list[float]
    """Seconds as the log counts them, or since 1970-01-01 UTC where it gives dates."""
    value: list[float | None]
    dated: bool
    """The times are dates and times of day, not plain seconds."""
    zoned: bool
    """The dates carry their zone; else they are taken as UTC."""


def read_log(path: Path, column: str | None) -> LogColumn:
    """Read a log.

    Args:
        path: the file.
        column: name of the value column; None takes the second one.

    Raises:
        ImportLogError: with the line and what would be accepted.
    """
    text = _text(path)
    delimiter = _delimiter(text, path)
    rows = _rows(text, delimiter, path)
    line, header = next(rows, (0, []))
    if not any(cell.strip() for cell in header):
        raise ImportLogError(f"{path.name} is empty; a header line and readings are needed.", line=None)
    place, name = _place(header, column, path)
    if _is_time(header[0], decimal=delimiter == ";"):
        raise ImportLogError(
            f"{path.name} has no header: line {line} starts with {header[0].strip()!r}. "
            "Put a line such as 'time,volts' above the readings.",
            line=line,
        )
    return _collect(rows, place, name, path, comma=delimiter == ";")


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ImportLogError(f"{path.name} is larger than 4 GiB; split it first.")
        data = path.read_bytes()
    except OSError as error:
        raise ImportLogError(f"The log {path} can't be read: {error.strerror or error}.") from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise ImportLogError(
            f"{path.name} is no text in UTF-8 (line {line}); save it as CSV in UTF-8.", line=line
        ) from error


def _delimiter(text: str, path: Path) -> str:
    first = text.partition("\n")[0]
    if not first.strip() and not text.strip():
        raise ImportLogError(f"{path.name} is empty; a header line and readings are needed.")
    counts = {mark: first.count(mark) for mark in _DELIMITERS}
    best = max(_DELIMITERS, key=lambda mark: (counts[mark] > 0, -_DELIMITERS.index(mark)))
    if counts[best] == 0:
        raise ImportLogError(
            f"{path.name} has no two columns in line 1: they are to be parted by a comma, semicolon or tab.",
            line=1,
        )
    return best


def _rows(text: str, delimiter: str, path: Path) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise ImportLogError(
                f"{path.name}, line {reader.line_num}: {error}; check the quotes.", line=reader.line_num
            ) from error
        if any(cell.strip() for cell in row):
            yield reader.line_num, row


def _place(header: list[str], column: str | None, path: Path) -> tuple[int, str]:
    names = [cell.strip() for cell in header]
    if column is None:
        if len(names) < 2:
            raise ImportLogError(f"{path.name} has one column only; time and a value are needed.", line=1)
        return 1, names[1]
    if column not in names[1:]:
        there = ", ".join(repr(n) for n in names[1:]) or "none"
        raise ImportLogError(
            f"{path.name} has no column {column!r} beside the time; there are: {there}.", line=1
        )
    return names.index(column, 1), column


def _is_time(cell: str, *, decimal: bool) -> bool:
    return _seconds(cell, comma=decimal) is not None or _date(cell) is not None


def _seconds(cell: str, *, comma: bool) -> float | None:
    text = cell.strip()
    if comma:
        text = text.replace(",", ".")
    if not _NUMBER.fullmatch(text):
        return None
    number = float(text)
    return number if math.isfinite(number) else None


def _date(cell: str) -> datetime | None:
    try:
        return datetime.fromisoformat(cell.strip())
    except ValueError:
        return None


def _collect(
    rows: Iterator[tuple[int, list[str]]], place: int, name: str, path: Path, *, comma: bool
) -> LogColumn:
    times: list[float] = []
    values: list[float | None] = []
    dated: bool | None = None
    zoned = False
    for line, row in rows:
        moment, is_date, has_zone = _moment(row[0], path, line, comma=comma)
        if dated is None:
            dated, zoned = is_date, has_zone
        elif dated != is_date or zoned != has_zone:
            raise ImportLogError(
                f"{path.name}, line {line}: the time {row[0].strip()!r} is written another way than those "
                "before it.",
                line=line,
            )
        if times and moment < times[-1]:
            raise ImportLogError(
                f"{path.name}, line {line}: the time runs backwards, {row[0].strip()!r} comes after a later "
                "one. Sort the log or cut it where its clock was set.",
                line=line,
            )
        times.append(moment)
        values.append(_value(row[place] if place < len(row) else "", path, line, comma=comma))
    if not times:
        raise ImportLogError(f"{path.name} has a header and no readings.")
    since_1970 = not dated and times[0] > _SINCE_1970_S
    if since_1970:
        # No run was logged after the year 5000: larger counts are thousandths or millionths.
        step = next(step for step in (1.0, 1e3, 1e6) if times[0] / step < 1e11 or step == 1e6)
        times = [t / step for t in times]
    return LogColumn(name, times, values, bool(dated) or since_1970, zoned or since_1970)


def _moment(cell: str, path: Path, line: int, *, comma: bool) -> tuple[float, bool, bool]:
    seconds = _seconds(cell, comma=comma)
    if seconds is not None:
        if abs(seconds) > 1e17:
            raise ImportLogError(f"{path.name}, line {line}: {cell.strip()!r} is no time.", line=line)
        return seconds, False, False
    date = _date(cell)
    if date is None:
        raise ImportLogError(
            f"{path.name}, line {line}: {cell.strip()!r} is no time; seconds or ISO 8601 such as "
            "2026-05-04T10:30:00.5 are taken.",
            line=line,
        )
    zoned = date.tzinfo is not None
    return (date if zoned else date.replace(tzinfo=UTC)).timestamp(), True, zoned


def _value(cell: str, path: Path, line: int, *, comma: bool) -> float | None:
    if cell.strip() in _MISSING or cell.strip().lower() in {"nan", "null"}:
        return None
    number = _seconds(cell, comma=comma)
    if number is None:
        raise ImportLogError(
            f"{path.name}, line {line}: {cell.strip()!r} is no number; leave the cell empty where there was no "
            "reading.",
            line=line,
        )
    return number
