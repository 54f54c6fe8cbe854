"""A CSV log as rows: its encoding, its delimiter, its header, and each row with its line number."""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Self

from daq.errors import ImportLogError
from daq.importing.log_bytes import LogBytes
from daq.importing.numbers import NumberError, NumberReader
from daq.model.counted import counted
from daq.recording.lines import clean_text

__all__ = ["CsvText"]

_HEAD_BYTES = 64 * 1024
_READ_BYTES = 64 * 1024
_LONGEST_HEADER = 4 * 1024 * 1024
"""Letters; half a million columns with short names. A longer one is refused, for part of it would be no header."""
_MOST_LINES_BEFORE = 1000
"""Up to the end of the first two lines that aren't blank."""
_DATE = re.compile(r"\d{4}-?\d\d-?\d\d")
_DELIMITERS = (";", "\t", ",")


class CsvText:
    """An open log.

    Attributes:
        path: the file.
        name: its name, fit to be shown.
        delimiter: what separates the columns.
        header: the cells of its header, fit to be shown.
        size: bytes of the file.
    """

    def __init__(self, path: Path) -> None:
        """Open the log and read its header.

        Raises:
            ImportLogError: there is no such file, it can't be read, is empty or no text, or has no header.
        """
        self.path = path
        self.name = clean_text(path.name, limit=80)
        raw = io.BufferedReader(LogBytes(path, self.name), _READ_BYTES)
        try:
            self.size = os.fstat(raw.fileno()).st_size
            head = raw.read(_HEAD_BYTES)
            raw.seek(0)
            self._raw = raw
            self._text = io.TextIOWrapper(raw, encoding=self._encoding(head), errors="replace", newline="")
            self.delimiter, self._skipped, self.header = self._find_header()
        except BaseException:
            raw.close()
            raise

    @property
    def done_bytes(self) -> int:
        """Bytes read so far."""
        return self._raw.tell()

    def close(self) -> None:
        """Close the file; may be called twice."""
        self._text.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Each row that isn't blank, with the number of its line, from 1.

        Raises:
            ImportLogError: a row has more cells than the header, or the file can't be read any further.
        """
        self._text.seek(0)
        reader = csv.reader(self._text, delimiter=self.delimiter, strict=True)
        width = len(self.header)
        try:
            for index, row in enumerate(reader):
                if index < self._skipped or not any(cell.strip() for cell in row):
                    continue
                if len(row) > width and any(cell.strip() for cell in row[width:]):
                    raise self.error(reader.line_num, self._too_wide(len(row)))
                yield reader.line_num, row
        except csv.Error as error:
            raise self.error(reader.line_num, f"{clean_text(str(error))}; check the quotes") from error

    def error(self, line: int, what: str) -> ImportLogError:
        """The sentence for something that is wrong in a line."""
        return ImportLogError(f"{self.name}, line {line}: {what}.", line=line)

    def _encoding(self, head: bytes) -> str:
        if not head.strip():
            raise ImportLogError(f"{self.name} is empty; a header line and readings are needed.")
        if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        if b"\0" in head:
            raise ImportLogError(f"{self.name} is no text file; save the log as CSV.")
        try:
            codecs.getincrementaldecoder("utf-8")().decode(head)
        except UnicodeDecodeError:
            return "cp1252"
        return "utf-8-sig"

    def _find_header(self) -> tuple[str, int, list[str]]:
        """Delimiter, the number of rows up to the first of the data, and the header."""
        lines = self._first_lines()
        best: list[list[str]] = []
        delimiter = ","
        for candidate in _DELIMITERS:
            try:
                rows = self._split(lines, candidate)
            except ImportLogError:
                continue  # a cell is longer than any may be where the columns are parted by another
            filled = [row for row in rows if any(cell.strip() for cell in row)]
            if filled and len(filled[0]) > 1 and (len(filled) < 2 or len(filled[1]) > 1):
                best, delimiter = rows, candidate
                break
        else:
            self._split(lines, _DELIMITERS[-1])
            raise ImportLogError(
                f"{self.name} has no two columns in line 1: time and a value are needed, parted by a comma, a "
                "semicolon or a tab.",
                line=1,
            )
        place = next(i for i, row in enumerate(best) if any(cell.strip() for cell in row))
        header = [clean_text(cell.strip()) for cell in best[place]]
        if _is_data(header[0], delimiter):
            first = clean_text(header[0], limit=40)
            raise ImportLogError(
                f"{self.name} has no header: line {place + 1} starts with {first!r}. Put a line such as "
                "'time,volts' above the readings.",
                line=place + 1,
            )
        return delimiter, place + 1, header

    def _first_lines(self) -> list[str]:
        """Up to the second that isn't blank: the header whole, and enough of the other to see how it is parted."""
        lines: list[str] = []
        filled = 0
        for line in self._text:
            blank = not line.strip()
            if not blank and not filled and len(line) > _LONGEST_HEADER:
                raise self.error(
                    len(lines) + 1,
                    f"its header is longer than {_LONGEST_HEADER // 1024**2} MB; export fewer columns",
                )
            filled += not blank
            lines.append(line if filled == 1 and not blank else line[:_HEAD_BYTES])
            if filled == 2 or len(lines) > _MOST_LINES_BEFORE:
                break
        return lines

    def _split(self, lines: list[str], delimiter: str) -> list[list[str]]:
        try:
            return list(csv.reader(lines, delimiter=delimiter))
        except csv.Error as error:
            raise self.error(1, f"it can't be split into columns ({clean_text(str(error))})") from error

    def _too_wide(self, cells: int) -> str:
        text = f"it has {counted(cells, 'column')}, the header has {len(self.header)}"
        return text + (
            "; where decimals have a comma, the columns need ';' between" if self.delimiter == "," else ""
        )


def _is_data(cell: str, delimiter: str) -> bool:
    """Whether the first cell of the first line is a time, and so no name of a column."""
    try:
        return NumberReader(delimiter).read(cell) is not None
    except NumberError:
        return _DATE.match(cell) is not None
