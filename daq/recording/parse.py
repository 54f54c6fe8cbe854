"""Blocks of whole lines to arrays: strict and quick, without state.

Two ways that give the same: line by line, and in bulk through a C parser of
CSV text. The bulk way accepts a block only when it can prove that every line
of it is an entry or a reading in plain JSON; otherwise the block is halved
until the odd lines stand almost alone, and those pieces go line by line.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
import numpy as np

from daq.recording.bulk import bulk_columns
from daq.recording.line_columns import Columns, no_columns
from daq.recording.lines import (
    LineError,
    decode_entry,
    decode_row,
    may_be_entry,
    may_be_row,
    why_refused,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daq.recording.entries import Entry
    from daq.recording.lines import Row

__all__ = ["Parsed", "PlacedEntry", "parse_block"]

_LINEWISE_BYTES = 64 * 1024
_BAD_KEPT = 1
_LEAST_BYTES_AN_ENTRY = 512
_ENTRY_START = b'{"entry":'


class PlacedEntry(msgspec.Struct):
    """An entry and where it stood."""

    entry: Entry
    line: int
    """Line within the block, from 0."""
    offset: int
    """Byte within the block at which its line starts."""
    reading: int
    """Readings of the block that stood before it."""


class Parsed(msgspec.Struct):
    """What a block of whole lines held."""

    size: int
    """Bytes of the block."""
    lines: int
    columns: Columns
    line: NDArray[np.int32]
    """Line within the block of each reading, from 0."""
    entries: list[PlacedEntry]
    bad: list[tuple[int, str]]
    """The first lines that are neither reading nor entry, each with the reason."""
    bad_count: int


def parse_block(block: bytes, *, bulk: bool, tick_ns: int) -> list[Parsed]:
    """Parse a block of whole lines.

    Args:
        block: bytes that end on a newline.
        bulk: whether the C parser may be used (it costs the import of pandas, once).
        tick_ns: nanoseconds in one unit of a reading's time, by the format version.

    Returns:
        Its pieces, in file order; their sizes add up to the block's.
    """
    if not block:
        return []
    if len(block) > _LINEWISE_BYTES:
        whole = _parse_bulk(block, tick_ns) if bulk else None
        if whole is not None:
            return [whole]
        centre = len(block) // 2
        middle = block.rfind(b"\n", 0, centre) + 1 or block.find(b"\n", centre) + 1
        if middle < len(block):
            halves = (block[:middle], block[middle:])
            return [piece for half in halves for piece in parse_block(half, bulk=bulk, tick_ns=tick_ns)]
    return [_parse_linewise(block, tick_ns)]


def _parse_linewise(block: bytes, tick_ns: int) -> Parsed:
    rows: list[Row] = []
    row_lines: list[int] = []
    entries: list[PlacedEntry] = []
    bad: list[tuple[int, str]] = []
    bad_count = offset = 0
    lines = block[:-1].split(b"\n")
    for number, line in enumerate(lines):
        if (row := _row(line, tick_ns)) is not None:
            rows.append(row)
            row_lines.append(number)
        elif (entry := _entry(line)) is not None:
            entries.append(PlacedEntry(entry, number, offset, len(rows)))
        else:
            bad_count += 1
            if len(bad) < _BAD_KEPT:
                bad.append((number, why_refused(line, tick_ns)))
        offset += len(line) + 1
    line_numbers = np.array(row_lines, np.int32)
    return Parsed(len(block), len(lines), _columns(rows, tick_ns), line_numbers, entries, bad, bad_count)


def _row(line: bytes, tick_ns: int) -> Row | None:
    try:
        return decode_row(line, tick_ns) if may_be_row(line) else None
    except LineError:
        return None


def _entry(line: bytes) -> Entry | None:
    try:
        return decode_entry(line) if may_be_entry(line) else None
    except LineError:
        return None


def _columns(rows: list[Row], tick_ns: int) -> Columns:
    if not rows:
        return no_columns()
    channel, ticks, value, quality = zip(*rows, strict=True)
    return Columns(
        np.array(channel, np.int16),
        np.array(ticks, np.int64) * tick_ns,
        np.array(value, np.float64),  # None becomes NaN
        np.array(quality, np.int8),
    )


def _parse_bulk(block: bytes, tick_ns: int) -> Parsed | None:
    """The block through the C parser, or None where it is not all plain."""
    objects = _find_objects(block)
    if objects is None:
        return None
    edges = [0, *(edge for start, end in objects for edge in (start, end + 1)), len(block)]
    parts = [block[start:end] for start, end in zip(edges[::2], edges[1::2], strict=True)]
    columns = bulk_columns(b"".join(parts) if objects else block, tick_ns)
    if columns is None:
        return None
    entries: list[PlacedEntry] = []
    holds_reading = np.ones(len(columns.t_ns) + len(objects), np.bool_)
    reading = 0
    for part, (start, end) in zip(parts, objects, strict=False):
        reading += part.count(b"\n")
        line = reading + len(entries)
        entry = _entry(block[start:end])
        if entry is None:
            return None
        entries.append(PlacedEntry(entry, line, start, reading))
        holds_reading[line] = False
    lines = np.flatnonzero(holds_reading).astype(np.int32)
    return Parsed(len(block), len(holds_reading), columns, lines, entries, [], 0)


def _find_objects(block: bytes) -> list[tuple[int, int]] | None:
    """Start and end of each entry's line; None where a ``{`` stands anywhere else, or entries are too many.

    Entries that stand close together are no work for the bulk parser.
    """
    objects: list[tuple[int, int]] = []
    most = len(block) // _LEAST_BYTES_AN_ENTRY
    start = block.find(b"{")
    while start >= 0:
        first_in_line = start == 0 or block[start - 1] == ord("\n")
        if not first_in_line or not block.startswith(_ENTRY_START, start) or len(objects) >= most:
            return None
        end = block.index(b"\n", start)
        objects.append((start, end))
        start = block.find(b"{", end)
    return objects
