"""Follows a recording, growing or closed, a bounded stretch at a time."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Self

from daq.recording.batch import Batch, empty_batch
from daq.recording.blocks import BlockReader
from daq.recording.ending import ending_problem
from daq.recording.intake import Intake
from daq.recording.opening import no_whole_line

__all__ = ["POLL_BYTES", "FileFollower"]

POLL_BYTES = 4 * 1024 * 1024
"""Most that one poll reads."""
_BULK_FROM_BYTES = 8 * 1024 * 1024
"""From this much unread data on, the bulk parser's start-up is worth it."""


class FileFollower:
    """Gives what is new in a recording at each poll.

    A line that is still being written is left alone until its newline is there.

    Attributes:
        intake: what is known so far: session, channels, machine, close, counts.
    """

    def __init__(self, path: str | os.PathLike[str], *, until_end: bool = False) -> None:
        """Open the recording.

        Args:
            path: the recording; it must exist.
            until_end: count as finished at the end of the file as it is now, closed
                or not. Otherwise only the closing line finishes it.

        Raises:
            RecordingError: there is no such file, or it may not be read.
        """
        self.intake = Intake()
        self._until_end = until_end
        self._blocks = BlockReader(Path(path), POLL_BYTES)
        self._polled = False
        self._ending: list[str] = []
        self._started = False

    @property
    def path(self) -> Path:
        """The file, under the name that it has now."""
        return self._blocks.path

    @property
    def at_end(self) -> bool:
        """Whether the newest poll gave the last whole line that was there."""
        return self._polled and (self._blocks.at_end or not self._started)

    @property
    def finished(self) -> bool:
        """Nothing more will come."""
        return self._is_finished()

    @property
    def problems(self) -> list[str]:
        """What was wrong so far; once finished, also how the recording ended."""
        return self.intake.troubles.sentences() + self._ending

    def being_written(self) -> bool | None:
        """Whether a writer has the file; None where this can't be known."""
        return self.intake.close is None and self._blocks.being_written()

    def poll(self) -> Batch:
        """What is new, at most ``POLL_BYTES`` of it.

        An empty batch says that nothing was new, or nothing of use: who wants to
        catch up polls until ``at_end``.

        Raises:
            RecordingError: it is no recording, or was cut, removed or replaced meanwhile.
        """
        if self._is_finished():
            return empty_batch()
        self._polled = True
        self._blocks.check_same()
        if not self._started and not self._start():
            return empty_batch()
        bulk = self._blocks.size() - self._blocks.offset >= _BULK_FROM_BYTES
        block = self._blocks.next()
        batch = self.intake.take_block(block, bulk=bulk) if block is not None else empty_batch()
        if self._is_finished():
            self._note_ending()
        return batch

    def save_if_removed(self) -> Path | None:
        """Write a file that was removed anew, for a writer that has died; gives its name, or None where it is there.

        Raises:
            OutputError: it can't be written there.
        """
        return self._blocks.save_if_removed()

    def close(self) -> None:
        """Let go of the file; may be called twice."""
        self._blocks.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _is_finished(self) -> bool:
        return self._blocks.at_end and (self._until_end or self.intake.close is not None)

    def _note_ending(self) -> None:
        torn_bytes = max(0, self._blocks.size() - self._blocks.offset)
        told = ending_problem(
            self.intake, self.path, torn_bytes=torn_bytes, being_written=self.being_written()
        )
        self._ending = [told] if told is not None else []

    def _start(self) -> bool:
        self._started = self._blocks.starts_well()
        if not self._started and self._until_end:
            raise no_whole_line(self.path, self._blocks.size())
        return self._started
