"""A file as blocks of whole lines, forward, with bounded memory."""

from __future__ import annotations

import os
import stat
from io import FileIO
from pathlib import Path

import msgspec
import numpy as np

from daq.errors import RecordingError
from daq.locking import is_being_written
from daq.recording.entries import FORMAT_VERSION, TICK_NS
from daq.recording.line_columns import no_columns
from daq.recording.lines import MAX_LINE_BYTES, TOO_LONG
from daq.recording.opening import check_first_line, open_error
from daq.recording.own_file import copy_all, is_removed, name_of, new_file
from daq.recording.parse import Parsed, parse_block

__all__ = ["Block", "BlockReader"]

_COMPARED_BYTES = 64 * 1024
_LOOKED_AT_BYTES = 4096


class Block(msgspec.Struct):
    """Whole lines; or one part of a line that is longer than any line of a recording may be."""

    data: bytes
    tick_ns: int
    """Nanoseconds in one unit of a reading's time."""
    overlong: bool = False

    def parse(self, *, bulk: bool) -> list[Parsed]:
        """What it holds, in pieces whose sizes add up to its own; see :func:`parse_block`."""
        if not self.overlong:
            return parse_block(self.data, bulk=bulk, tick_ns=self.tick_ns)
        ended = self.data.count(b"\n")
        bad = [(0, TOO_LONG)] if ended else []
        return [Parsed(len(self.data), ended, no_columns(), np.empty(0, np.int32), [], bad, ended)]


class BlockReader:
    """Reads a file from its start; what is no whole line yet is read again later.

    Attributes:
        path: the file.
        offset: bytes handed out so far.
        at_end: the newest block was followed by nothing, or by an unfinished line alone.
    """

    def __init__(self, path: Path, block_bytes: int) -> None:
        """Open the file.

        Args:
            path: the recording.
            block_bytes: most bytes in a block; more than ``MAX_LINE_BYTES``.

        Raises:
            RecordingError: there is no such file, or it may not be read.
        """
        self.path = path
        self.offset = 0
        self.at_end = False
        self._block_bytes = block_bytes
        self._first = b""
        self._last = b""
        """Both ends of what was handed out, to see that it stands there still."""
        self._in_overlong = False
        self._tick_ns = TICK_NS[FORMAT_VERSION]
        try:
            if not stat.S_ISREG(path.stat().st_mode) and not path.is_dir():
                raise RecordingError(f"{path.name} is no ordinary file and can't be a recording.")
            self._file = FileIO(path)
        except OSError as error:
            raise open_error(path, error) from error
        self._identity = _identity(os.fstat(self._file.fileno()))

    def size(self) -> int:
        """Bytes of the file at this moment."""
        return os.fstat(self._file.fileno()).st_size

    def being_written(self) -> bool | None:
        """Whether a writer has the file; None where this can't be known, as when its name is another file's."""
        written = is_being_written(self._file.fileno())
        return written if written or self._has_its_name() else None

    def starts_well(self) -> bool:
        """Whether the file's first line is whole; see :func:`check_first_line`.

        Raises:
            RecordingError: the file can't become a recording that this version reads.
        """
        tick_ns = check_first_line(self._read(0, MAX_LINE_BYTES + 1), self.path)
        self._tick_ns = tick_ns or self._tick_ns
        return tick_ns is not None

    def check_same(self) -> None:
        """Keep to this file, whatever becomes of its name.

        A file that was moved is read on under its new name, one that is removed while somebody writes it
        is read on as long as he does, and one that he has put back is read on where it is now.

        Raises:
            RecordingError: it was removed, replaced, cut or overwritten.
        """
        if not (self._has_its_name() or self._was_moved() or self._goes_on() or self._was_put_back()):
            raise RecordingError(
                f"{self.path.name} was removed or replaced while it was read; open it again."
            )
        if self.size() < self.offset:
            raise RecordingError(f"{self.path.name} was cut while it was read; open it again.")
        if not self._stands_still():
            raise RecordingError(
                f"{self.path.name} was overwritten by something else while it was read; what was read is "
                "not in it any more."
            )

    def _stands_still(self) -> bool:
        last = self._read(self.offset - len(self._last), len(self._last))
        return last == self._last and self._read(0, len(self._first)) == self._first

    def _has_its_name(self) -> bool:
        try:
            return _identity(self.path.stat()) == self._identity
        except OSError:
            return False

    def _was_moved(self) -> bool:
        """Take over the new name, where the system tells it; what has a name is not lost."""
        if is_removed(self._file.fileno()):
            return False
        self.path = name_of(self._file.fileno()) or self.path
        return True

    def _goes_on(self) -> bool:
        return bool(is_being_written(self._file.fileno()))

    def _was_put_back(self) -> bool:
        """Go on in the file that has the name now, if all that was read of the old one stands there too."""
        try:
            new = FileIO(self.path)
        except OSError:
            return False
        old, self._file = self._file, new
        same = all(self._same_in(old, at) for at in (0, max(0, self.offset - _COMPARED_BYTES)))
        if not same:
            self._file = old
        (old if same else new).close()
        self._identity = _identity(os.fstat(self._file.fileno()))
        return same

    def _same_in(self, old: FileIO, at: int) -> bool:
        size = min(_COMPARED_BYTES, self.offset - at)
        old.seek(at)
        return old.read(size) == self._read(at, size)

    def save_if_removed(self) -> Path | None:
        """Give a file that has no name any more one again: its own, or the next that is free.

        Returns:
            The name; None where it has one.

        Raises:
            OutputError: it can't be written there.
        """
        fd = self._file.fileno()
        if not is_removed(fd):
            return None
        new, name = new_file(self.path, lambda new: copy_all(fd, new))
        os.close(new)
        return name

    def next(self) -> Block | None:
        """The next block, or None where there is no further whole line."""
        data = self._read(self.offset, self._block_bytes)
        self.at_end = len(data) < self._block_bytes
        if self._in_overlong:
            end = data.find(b"\n") + 1
            self._in_overlong = end == 0
            self.at_end &= end in (0, len(data))
            return self._hand_out(data[: end or len(data)], overlong=True)
        end = data.rfind(b"\n") + 1
        if end == 0 and len(data) > MAX_LINE_BYTES:
            self._in_overlong = True
            return self._hand_out(data, overlong=True)
        return self._hand_out(data[:end] if end < len(data) else data, overlong=False)

    def close(self) -> None:
        """Close the file; may be called twice."""
        self._file.close()

    def _hand_out(self, data: bytes, *, overlong: bool) -> Block | None:
        if data:
            self._first = self._first if self.offset else data[:_LOOKED_AT_BYTES]
            self._last = data[-_LOOKED_AT_BYTES:]
        self.offset += len(data)
        return Block(data, self._tick_ns, overlong) if data else None

    def _read(self, offset: int, size: int) -> bytes:
        try:
            self._file.seek(offset)
            return self._file.read(size) or b""
        except OSError as error:
            raise open_error(self.path, error) from error


def _identity(status: os.stat_result) -> tuple[int, int]:
    return status.st_dev, status.st_ino
