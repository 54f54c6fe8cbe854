"""Reads a whole recording, closed or cut off, into columns."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from daq.locking import writer_alive
from daq.recording.batch import split_by_channel
from daq.recording.blocks import Block, BlockReader
from daq.recording.columns import Column, GrowingColumn
from daq.recording.ending import ending_problem
from daq.recording.entries import (
    ChannelEntry,
    ClockEntry,
    CloseEntry,
    EventEntry,
    MarkEntry,
    SessionEntry,
    StepEntry,
)
from daq.recording.intake import Intake
from daq.recording.lines import MAX_LINE_BYTES
from daq.recording.opening import no_whole_line, utc_of

if TYPE_CHECKING:
    from daq.cards.machine import MachineCard
    from daq.recording.batch import Batch
    from daq.recording.entries import Entry
    from daq.recording.parse import Parsed

__all__ = ["Column", "Recording", "read_recording"]

_BLOCK_BYTES = 4 * MAX_LINE_BYTES
"""More than the longest line there may be, so that one that is too long shows; and so much that the threads
which share the work seldom wait for each other's turn at the interpreter."""
_LARGE_PIECE_BYTES = 31 * 1024 * 1024
"""The C library keeps no account of pieces above 32 MB."""
_BULK_FROM_BYTES = 2 * 1024 * 1024
"""A smaller file is read line by line, which is quicker than importing pandas."""


class Recording:
    """A recording that was read.

    Attributes:
        path: where it was.
        session: its first line.
        machine: the machine card in use, or None.
        channels: in the order in which they were declared.
        events: what happened to the run, in file order; likewise marks, steps and clocks.
        wall_clock: the dates of its moments.
        close: the closing line, or None.
        complete: it was closed, and nothing is missing or changed.
        problems: what is missing, changed or left out; one sentence each.
        readings: how many readings it holds.
        last_t_ns: the latest time in it.
        digest: "sha256:" and the digest of what stands before the closing line.
    """

    def __init__(
        self,
        path: Path,
        intake: Intake,
        session: SessionEntry,
        entries: Sequence[Entry],
        columns: dict[int, GrowingColumn],
        ending: str | None,
    ) -> None:
        """Use :func:`read_recording`."""
        self.path = path
        self.session = session
        self.machine: MachineCard | None = intake.machine
        self.channels: tuple[ChannelEntry, ...] = tuple(intake.channels.values())
        self.events = [entry for entry in entries if isinstance(entry, EventEntry)]
        self.marks = [entry for entry in entries if isinstance(entry, MarkEntry)]
        self.steps = [entry for entry in entries if isinstance(entry, StepEntry)]
        self.clocks = [entry for entry in entries if isinstance(entry, ClockEntry)]
        self.wall_clock = intake.wall_clock
        self.close: CloseEntry | None = intake.close
        self.problems: list[str] = intake.troubles.sentences() + ([ending] if ending is not None else [])
        self.complete = intake.close is not None and ending is None and intake.troubles.all_there
        self.readings = intake.readings
        self.last_t_ns = intake.last_t_ns
        self.digest = intake.digest
        self._columns = columns

    @property
    def start(self) -> datetime:
        """The wall clock at ``t_ns`` 0, in UTC; what the first line says where that is no date."""
        start = self.wall_clock.utc(0) or utc_of(self.session)
        if start is None:
            raise ValueError("the session's start was checked when the recording was opened")
        return start

    @property
    def start_known(self) -> bool:
        """Whether ``start`` is a date; a log that counts from 0 has none, nor has a run under a clock never set."""
        return self.wall_clock.known

    def columns(self, channel: int) -> Column:
        """The readings of a channel; views, not copies.

        Raises:
            KeyError: the recording has no such channel.
        """
        if all(entry.channel != channel for entry in self.channels):
            raise KeyError(channel)
        return self._columns.get(channel, GrowingColumn()).column()


def read_recording(
    path: str | os.PathLike[str], progress: Callable[[float], None] | None = None
) -> Recording:
    """Read a recording as far as its whole lines go.

    Args:
        path: the recording.
        progress: called with the part done, from 0 to 1.

    Returns:
        The recording. What could not be read is told in its ``problems``.

    Raises:
        RecordingError: there is no such file, it is empty, cut off within its first
            line, no recording at all, or of a newer version.
    """
    with closing(BlockReader(Path(path), _BLOCK_BYTES)) as blocks:
        size = blocks.size()
        if size == 0 or not blocks.starts_well():
            raise no_whole_line(blocks.path, size)
        being_written = writer_alive(blocks.path)
        intake = Intake()
        entries: list[Entry] = []
        done_bytes = 0
        columns: dict[int, GrowingColumn] = {}
        for block, pieces in _parsed(blocks, size):
            batch = intake.take_pieces(block, pieces)
            entries.extend(batch.entries)
            done_bytes += len(block.data)
            _sort_in(batch, columns, done_bytes / size)
            if progress is not None:
                progress(done_bytes / size)
        if intake.session is None:
            raise no_whole_line(blocks.path, size)
        torn_bytes = max(0, size - blocks.offset)
    ending = ending_problem(intake, blocks.path, torn_bytes=torn_bytes, being_written=being_written)
    return Recording(blocks.path, intake, intake.session, entries, columns, ending)


def _parsed(blocks: BlockReader, size: int) -> Iterator[tuple[Block, list[Parsed]]]:
    """Blocks up to that size of the file, parsed; two at a time in a large file."""
    if size < _BULK_FROM_BYTES:
        while (blocks.offset < size) and (block := blocks.next()) is not None:
            yield block, block.parse(bulk=False)
        return
    _keep_pages()
    waiting: deque[tuple[Block, Future[list[Parsed]]]] = deque()
    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        while blocks.offset < size and (block := blocks.next()) is not None:
            waiting.append((block, pool.submit(block.parse, bulk=True)))
            if len(waiting) > 3:
                done, future = waiting.popleft()
                yield done, future.result()
        for done, future in waiting:
            yield done, future.result()


def _keep_pages() -> None:
    """Have the C library keep the memory of a block for the next one.

    glibc gives what was freed back to the system, page by page, where it is more than twice the largest
    piece that was ever freed; fetching those pages anew cost a third of the reading. A large piece that
    is freed unused, so that it costs nothing, raises that bound (mallopt(3), M_MMAP_THRESHOLD).
    """
    np.empty(_LARGE_PIECE_BYTES, np.uint8)


def _sort_in(batch: Batch, columns: dict[int, GrowingColumn], done: float) -> None:
    for channel, places in split_by_channel(batch.channel):
        column = columns.setdefault(channel, GrowingColumn())
        column.extend(batch.t_ns[places], batch.value[places], batch.quality[places], done)
