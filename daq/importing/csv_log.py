"""CSV logs that other devices saved become a recording.

The first column is time. What stands in the logs is taken over reading by
reading: an empty cell is a missing value, and nothing is put in between.
"""

from __future__ import annotations

import heapq
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from importlib.metadata import PackageNotFoundError, version
from itertools import islice
from pathlib import Path

import msgspec

from daq.cards.machine import MachineCard
from daq.errors import OutputError, UsageError
from daq.importing.csv_text import CsvText
from daq.importing.log_channel import LogChannel, LogItem
from daq.locking import writer_alive
from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.output import check_free, output_error, replacing
from daq.recording.entries import UNKNOWN_START, Line, MachineEntry, SessionEntry
from daq.recording.lines import MAX_CHANNELS, MAX_T_NS
from daq.recording.writer import RecordingWriter

__all__ = ["LogItem", "import_logs"]

_BATCH = 4096


def import_logs(
    out: str | os.PathLike[str],
    items: Sequence[tuple[Quantity, Path, str | None]],
    machine: MachineCard | None,
    *,
    force: bool,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Make a recording from CSV logs; it appears whole or not at all.

    Logs that know the moment (ISO 8601, Unix time) are placed by it; a log that
    counts seconds from a start of its own is placed as if that were the session's
    start. The session's note says so.

    Args:
        out: the recording to write.
        items: for each log its quantity, its file and its column (None: the second).
        machine: the machine card, if one is known.
        force: replace a recording that is there.
        progress: called with the part done, from 0 to 1.

    Raises:
        ImportLogError: a log can't be understood; names the file, and the line.
        OutputError: the recording exists and ``force`` is not given, or it can't be written.
        UsageError: nothing to import, a quantity that logs can't carry, or a log
            that would be replaced by its own recording.
    """
    target = Path(out)
    check_free(target, force=force)
    _check_items(items, target)
    with ExitStack() as stack:
        channels = [LogChannel(LogItem(*item), stack.enter_context(CsvText(Path(item[1])))) for item in items]
        with replacing(target, force=force) as draft:
            try:
                _write(draft, channels, machine, progress)
            except OutputError as error:
                raise _not_made(target, draft, error) from error


def _not_made(target: Path, draft: Path, error: OutputError) -> OutputError:
    """What became of the import: a draft that can't be finished is taken away, and nothing waits to be written."""
    if isinstance(error.__cause__, OSError):
        return output_error(target, error.__cause__)
    return OutputError(str(error).replace(draft.name, target.name))


def _check_items(items: Sequence[tuple[Quantity, Path, str | None]], target: Path) -> None:
    if not 1 <= len(items) <= MAX_CHANNELS:
        raise UsageError(f"import takes from 1 to {MAX_CHANNELS} logs, not {len(items)}.")
    for quantity, path, _ in items:
        if quantity in (Quantity.REVOLUTIONS, Quantity.DEVICE_TIME):
            raise UsageError(f"A log can't be imported as {quantity.value}.")
        if target.exists() and Path(path).exists() and target.samefile(path):
            raise UsageError(f"{target.name} is one of the logs; give the recording another name.")
    if target.exists() and writer_alive(target):
        raise OutputError(f"Another run is writing {target.name}; choose another name.")


def _write(
    draft: Path,
    channels: Sequence[LogChannel],
    machine: MachineCard | None,
    progress: Callable[[float], None] | None,
) -> None:
    start_ns = _start_ns(channels)
    total = sum(channel.text.size for channel in channels)
    with RecordingWriter.create(draft, _session(channels, start_ns), force=False) as writer:
        writer.write(_head(channels, machine))
        earliest_ns = min((c.first_t_ns for c in channels if not c.kind.absolute), default=0)
        earliest_ns = min(0, earliest_ns)
        streams = [
            _readings(number, channel, start_ns, earliest_ns) for number, channel in enumerate(channels)
        ]
        merged = heapq.merge(*streams, key=lambda reading: reading.t_ns)
        last_t_ns = 0
        while batch := list(islice(merged, _BATCH)):
            writer.write(batch)
            writer.flush()
            last_t_ns = batch[-1].t_ns
            if progress is not None:
                progress(min(1.0, sum(channel.text.done_bytes for channel in channels) / total))
        writer.close(last_t_ns, "imported")


def _start_ns(channels: Sequence[LogChannel]) -> int | None:
    """The session's start, since 1970 and on a whole microsecond; None where no log knows the moment."""
    known = [channel.first_t_ns for channel in channels if channel.kind.absolute]
    return min(known) // 1000 * 1000 if known else None


def _readings(number: int, channel: LogChannel, start_ns: int | None, earliest_ns: int) -> Iterator[Reading]:
    # Logs that count from a start of their own are moved together, so that the shift between them stays
    # what a reader of their times expects.
    origin_ns = start_ns if channel.kind.absolute and start_ns is not None else earliest_ns
    for row in channel.rows():
        t_ns = row.t_ns - origin_ns
        if t_ns > MAX_T_NS:
            raise channel.text.error(row.line, "its time is more than a century after the first")
        yield Reading(number, t_ns, row.value, row.quality)


def _session(channels: Sequence[LogChannel], start_ns: int | None) -> SessionEntry:
    started_utc = UNKNOWN_START
    if start_ns is not None:
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=start_ns // 1000)
        started_utc = moment.isoformat().replace("+00:00", "Z")
    notes = ["Imported.", *(note for channel in channels for note in channel.notes())]
    if start_ns is None:
        notes.append("When it was is not known.")
    if len(channels) > 1:
        notes.append("The clocks of the logs may differ.")
    if len({channel.kind.absolute for channel in channels}) > 1:
        notes.append("Logs that count from a start of their own are placed at the session's start.")
    return SessionEntry(program=_program(), started_utc=started_utc, source="import", note=" ".join(notes))


def _head(channels: Sequence[LogChannel], machine: MachineCard | None) -> list[Line]:
    lines: list[Line] = []
    if machine is not None:
        lines.append(MachineEntry(card=msgspec.to_builtins(machine)))
    taken: set[str] = set()
    for number, channel in enumerate(channels):
        name, count = channel.stem(), 1
        while name in taken:
            count += 1
            name = f"{channel.stem()}-{count}"
        taken.add(name)
        lines.append(channel.entry(number, name))
    return lines


def _program() -> str:
    try:
        return f"spinvolt {version('spinvolt')}"
    except PackageNotFoundError:
        return "spinvolt"
