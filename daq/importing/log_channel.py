"""One column of one CSV log as the readings of one channel."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import chain, islice
from pathlib import Path
from typing import NamedTuple

import msgspec

from daq.cards.instrument import ChannelCard, InstrumentCard
from daq.errors import ImportLogError
from daq.importing.csv_text import CsvText
from daq.importing.last_digit import LastDigit
from daq.importing.numbers import NumberError, NumberReader
from daq.importing.times import TimeError, TimeKind, TimeReader
from daq.importing.units import unit_factor
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.recording.entries import ChannelEntry
from daq.recording.lines import clean_text

__all__ = ["LogChannel", "LogItem", "LogRow"]

_OVERLOAD_WORDS = frozenset({"ol", "0l", "o.l", "0.l", "overload", "over", "ovld", "ovfl"})
"""How displays and loggers write that a reading was over range (common practice, no source)."""
_OVERLOAD = 9.9e37
_NOT_A_NUMBER = 9.91e37
"""How instruments write these two as plain numbers: SCPI-99, volume 1, 7.2.1.4 and 7.2.1.5."""
_HEAD_ROWS = 1000
"""The last digit is read off the text of so many rows, before the first of them is recorded."""


class LogItem(NamedTuple):
    """A log to take in: what it measures, the file, and the column (None: the second)."""

    quantity: Quantity
    path: Path
    column: str | None = None


class LogRow(NamedTuple):
    """A reading as the log gives it."""

    t_ns: int
    value: float | None
    quality: Quality
    line: int


class LogChannel:
    """A log that is open, with the column that was asked for.

    Attributes:
        item: what was asked for.
        text: the file.
        title: the column's header.
        kind: what its times count from.
        first_t_ns: its first time.
    """

    def __init__(self, item: LogItem, text: CsvText) -> None:
        """Find the column and read the first row.

        Raises:
            ImportLogError: the column isn't there, or the log has no row that can be read.
        """
        self.item = item
        self.text = text
        self._column = _find_column(item.column, text)
        self.title = text.header[self._column] or f"column {self._column + 1}"
        self._factor = unit_factor(text.header[self._column], item.quantity)
        numbers = NumberReader(text.delimiter)
        self._numbers = numbers
        self._times = TimeReader(text.header[0], numbers)
        self._rows = self._read_rows()
        self._digit = LastDigit()
        self._head = list(islice(self._rows, _HEAD_ROWS))
        if not self._head or self._times.kind is None:
            raise ImportLogError(f"{text.name} has a header and no readings.")
        self.kind: TimeKind = self._times.kind
        self.first_t_ns = self._head[0].t_ns

    def rows(self) -> Iterator[LogRow]:
        """The readings, oldest first. To be called once.

        Raises:
            ImportLogError: a row holds something else than a time and a number, or
                its time is before that of the row above.
        """
        head, self._head = self._head, []
        yield from chain(head, self._rows)

    def entry(self, channel: int, instrument: str) -> ChannelEntry:
        """How the recording declares it."""
        quantity = self.item.quantity
        card = InstrumentCard(
            name="csv-log",
            title=f"CSV log {self.text.name}, column {self.title}",
            protocol="csv-log",
            channel=(ChannelCard(quantity=quantity, name=self.title, resolution=self._resolution()),),
            notes="Made by import. Window, delay and accuracy of the instrument behind the log are not known.",
        )
        return ChannelEntry(
            channel=channel,
            quantity=quantity,
            unit=quantity.unit,
            instrument=instrument,
            address=self.text.name,
            card=msgspec.to_builtins(card),
            card_channel=0,
        )

    def _resolution(self) -> float | None:
        """The last digit as written, in the quantity's unit; None where the text does not tell."""
        digit = self._digit.value
        if digit is None:
            return None
        return digit if self._factor is None else abs(float(Fraction(digit) * self._factor[1]))

    def stem(self) -> str:
        """The file's name as an instrument's: letters, digits and ``-_.`` alone."""
        return re.sub(r"[^A-Za-z0-9_.-]+", "-", self.item.path.stem).strip("-")[:60] or "log"

    def notes(self) -> list[str]:
        """What the reader of the recording has to know of how the log was understood."""
        found = f"{self.text.name}: column {self.title!r} as {self.item.quantity.value}, times are {self.kind.value}"
        if self._factor is not None:
            unit, factor = self._factor
            found += f", values given in {unit} were multiplied by {float(factor):g}"
        return [found + "."]

    def _read_rows(self) -> Iterator[LogRow]:
        before_ns: int | None = None
        before_text = ""
        for line, row in self.text.rows():
            try:
                t_ns = self._times.read(row[0])
                value, quality = self._value(row[self._column] if self._column < len(row) else "")
            except (TimeError, NumberError) as error:
                raise self.text.error(line, str(error)) from error
            if before_ns is not None and t_ns < before_ns:
                now, before = (clean_text(text.strip(), limit=40) for text in (row[0], before_text))
                raise self.text.error(
                    line,
                    f"the time runs backwards, {now} comes after {before}; sort the log, or cut it where its clock was "
                    "set",
                )
            before_ns, before_text = t_ns, row[0]
            yield LogRow(t_ns, value, quality, line)

    def _value(self, cell: str) -> tuple[float | None, Quality]:
        if cell.strip().strip(".-").replace(" ", "").lower() in _OVERLOAD_WORDS:
            return None, Quality.OVERLOAD
        number = self._numbers.read(cell)
        if number is None:
            return None, Quality.NOT_A_NUMBER
        value = float(number) if self._factor is None else float(Fraction(number) * self._factor[1])
        if not math.isfinite(value):
            raise NumberError(f"{clean_text(cell.strip(), limit=40)!r} is no number that a reading can have")
        if abs(float(number)) >= _OVERLOAD:
            return None, Quality.NOT_A_NUMBER if abs(float(number)) == _NOT_A_NUMBER else Quality.OVERLOAD
        self._digit.look_at(number)
        return value, Quality.GOOD


def _find_column(wanted: str | None, text: CsvText) -> int:
    if wanted is None:
        return 1
    offered = ", ".join(repr(clean_text(cell, limit=60)) for cell in text.header[1:])
    named = [i for i, cell in enumerate(text.header) if i > 0 and cell.lower() == wanted.strip().lower()]
    if len(named) > 1:
        named = [i for i in named if text.header[i] == wanted.strip()]
    if len(named) == 1:
        return named[0]
    if named:
        raise ImportLogError(
            f"{text.name} has more than one column {wanted!r}; give the number of the one you mean."
        )
    if wanted.strip().isdecimal() and 2 <= int(wanted) <= len(text.header):
        return int(wanted) - 1
    raise ImportLogError(f"{text.name} has no column {wanted!r} besides its time; it has {offered}.")
