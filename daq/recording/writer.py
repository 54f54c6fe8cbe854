"""Writes a recording: append-only, whole lines, with nothing dropped in silence."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import sys
import threading
from collections.abc import Callable, Sequence
from itertools import groupby
from pathlib import Path
from typing import Self

from daq.errors import OutputError
from daq.locking import lock_for_writing, writer_alive
from daq.model.counted import counted
from daq.model.reading import Reading
from daq.recording.entries import CloseEntry, EventEntry, Line, SessionEntry
from daq.recording.kept import KeptLines
from daq.recording.lines import encode_lines
from daq.recording.moved import Moved
from daq.recording.own_file import Written, has_name, is_removed, new_file, write_all
from daq.recording.pending import Chunk, PendingLines, split_chunks
from daq.recording.rest import write_rest

__all__ = ["BUFFER_LIMIT_BYTES", "RecordingWriter"]

BUFFER_LIMIT_BYTES = 64 * 1024 * 1024
"""What a writer holds while the disk takes nothing: hours of readings at usual rates."""
_WRITE_BYTES = 1024 * 1024


class RecordingWriter:
    """A recording being written, by one writer. ``write`` and ``flush`` may run in two threads.

    ``write`` only fills a buffer. ``flush`` hands whole lines to the operating
    system and ``sync`` asks for them to be on the disk. When the disk is full,
    ``flush`` raises, the file ends on a whole line all the same, and what could
    not be written waits for the next ``flush``. Beyond the buffer's limit the
    oldest readings go, and the loss becomes an event in the recording.

    A file that something else has changed is never written into again:
    ``go_on_if_changed`` makes a new one, with all of the old one where that and
    ``KeptLines`` still hold it, else with its first lines and what ``KeptLines`` holds.

    Attributes:
        path: the file.
    """

    def __init__(self, path: Path, fd: int, buffer_limit_bytes: int) -> None:
        """Use :meth:`create`."""
        self.path = path
        self._fd = fd
        self._pending = PendingLines(buffer_limit_bytes)
        self._written = Written()
        self._kept = KeptLines()
        self._torn = False
        self._head: list[Chunk] = []
        """What stands before the first reading."""
        self._head_bytes = 0
        self._in_head = True
        self._file_lock = threading.RLock()

    @classmethod
    def create(
        cls,
        path: str | os.PathLike[str],
        session: SessionEntry,
        *,
        force: bool,
        buffer_limit_bytes: int = BUFFER_LIMIT_BYTES,
    ) -> Self:
        """Create the file with its first line.

        Args:
            path: where; its folder must exist.
            session: the first line.
            force: replace a file that is there.
            buffer_limit_bytes: what to hold while the disk takes nothing.

        Raises:
            OutputError: the file exists and ``force`` is not given, another run is
                writing it, or it can't be written; then nothing is left behind.
        """
        target = Path(path)
        writer = cls(target, _open_new(target, force=force), buffer_limit_bytes)
        try:
            writer.write([session])
            writer.flush()
        except BaseException:
            writer.abandon()
            with contextlib.suppress(OSError):
                target.unlink()
            raise
        return writer

    @property
    def readings(self) -> int:
        """How many readings stand in the file."""
        return self._written.readings

    @property
    def closed(self) -> bool:
        """Whether it was closed or abandoned."""
        return self._fd < 0

    @property
    def pending_bytes(self) -> int:
        """Bytes that wait in memory."""
        return self._pending.size

    @property
    def pending_readings(self) -> int:
        """Readings that wait in memory."""
        return self._pending.readings

    def write(self, lines: Sequence[Line]) -> None:
        """Take lines into the buffer; no file is touched.

        A value that is no finite number is written as null, and then not as good.
        """
        if self.closed:
            raise ValueError("the recording is closed")
        for is_reading, group in groupby(lines, key=lambda line: isinstance(line, Reading)):
            chunk = _chunk(list(group), is_reading)
            self._in_head = self._in_head and not is_reading
            if self._in_head:
                self._head.append(chunk)
                self._head_bytes += len(chunk.data)
            self._pending.put(chunk)

    def flush(self) -> None:
        """Hand what waits to the operating system.

        Raises:
            OutputError: it was not taken, or not all, or something else has changed the file. The rest is kept.
        """
        with self._file_lock:
            if self.closed:
                raise ValueError("the recording is closed")
            if self._is_changed(thorough=False):
                raise OutputError(
                    f"{self.path.name} was changed by something else and is not written any more."
                )
            self._mend()
            lost = self._pending.pop_lost()
            if lost is not None:
                self._pending.put_back([_loss(lost)])
            while chunks := self._pending.take(_WRITE_BYTES):
                self._append(chunks)

    def go_on_if_changed(self, elsewhere: Path | None = None, *, thorough: bool = True) -> Moved | None:
        """Go on in another file where something else has changed or removed this one, or taken its name.

        A removed one gets its name back where that is free; else the next free name is taken.

        Args:
            elsewhere: the name to begin with, in place of its own.
            thorough: look at the name, the file's ends and the next piece of it too, not at its size alone.

        Returns:
            Where it goes on; None where all is well.

        Raises:
            OutputError: it can't; what it held is kept in the open file or in memory.
        """
        with self._file_lock:
            if self.closed or not (self._is_changed(thorough=thorough) or (thorough and self._is_removed())):
                return None
            whole = False
            remembered = self._remembered()

            def fill(fd: int) -> None:
                nonlocal whole
                end = b"".join(chunk.data for chunk in self._kept.chunks())
                whole = self._written.copied(self._fd, fd, end)
                if not whole:
                    os.ftruncate(fd, 0)
                    write_all(fd, b"".join(chunk.data for chunk in remembered))

            was = self.path
            new, self.path = new_file(elsewhere or was, fill)
            os.close(self._fd)
            self._fd, self._torn = new, False
            return Moved(was, self.path) if whole else self._moved_in_part(was, remembered)

    def _moved_in_part(self, was: Path, remembered: Sequence[Chunk]) -> Moved:
        self._written = Written()
        for chunk in remembered:
            self._written.add(chunk.data, chunk.readings)
        kept = self._kept
        return Moved(was, self.path, kept.lost_readings, kept.first_t_ns, kept.whole)

    def _remembered(self) -> list[Chunk]:
        head = b"".join(chunk.data for chunk in self._head)
        return [Chunk(head[: self._written.size]), *self._kept.chunks()]

    def _is_changed(self, *, thorough: bool) -> bool:
        if sys.platform == "win32":
            return False
        return not self._written.stands_in(self._fd, thorough=thorough, torn=self._torn)

    def _is_removed(self) -> bool:
        return sys.platform != "win32" and is_removed(self._fd)

    def compare(self, enough: Callable[[], bool]) -> None:
        """Compare all of the file with what was written, before its end; what differs is a change.

        Args:
            enough: asked after each megabyte, from the newest to the oldest; the rest is taken as it is then.
        """
        with self._file_lock:
            if not self.closed and sys.platform != "win32":
                self._written.compare(self._fd, enough)

    def remove(self) -> None:
        """Close the file and remove it, if its name is still its own."""
        with self._file_lock:
            if not self.closed and has_name(self._fd, self.path):
                self.path.unlink()
            self.abandon()

    def save_rest(self, path: Path, t_ns: int, reason: str) -> int:
        """Write what still waits as a recording of its own, where the first one takes nothing more; the oldest first.

        Args:
            path: where; nothing may be there.
            t_ns: now, from the session's start.
            reason: for its closing line.

        Returns:
            How many readings are in it; what did not fit waits on.

        Raises:
            OutputError: none of it can be written either.
        """
        with self._file_lock:
            left = waiting = self._pending.take(sys.maxsize)
            try:
                left = write_rest(path, self._head, waiting, t_ns, reason)
            finally:
                self._pending.put_back(left)
            return sum(chunk.readings for chunk in waiting) - sum(chunk.readings for chunk in left)

    def sync(self) -> None:
        """Wait until what was flushed is on the disk.

        Raises:
            OutputError: the disk reports that it could not.
        """
        with self._file_lock:
            try:
                os.fsync(self._fd)
            except OSError as error:
                raise self._failure(error) from error

    def close(self, t_ns: int, reason: str) -> None:
        """Flush, write the closing line with count and digest, sync, and close the file.

        Args:
            t_ns: now, from the session's start.
            reason: why the run ended, for people.

        Raises:
            OutputError: not all could be written. The recording stays open: try
                again, or ``abandon`` it.
        """
        with self._file_lock:
            self.flush()
            digest = f"sha256:{self._written.digest}"
            last = CloseEntry(t_ns=t_ns, reason=reason, readings=self.readings, digest=digest)
            try:
                self._append([Chunk(encode_lines([last]))])
            except OutputError:
                self._pending.take(0)  # the closing line; it is made anew at the next try
                raise
            self.sync()
            self.abandon()

    def abandon(self) -> None:
        """Close the file as it is, without a closing line. May be called twice."""
        with self._file_lock:
            fd, self._fd = self._fd, -1
            if fd >= 0:
                os.close(fd)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.abandon()

    def _append(self, chunks: Sequence[Chunk]) -> None:
        data = memoryview(b"".join(chunk.data for chunk in chunks))
        written = 0
        try:
            while written < len(data):
                written += os.write(self._fd, data[written:])
        except OSError as error:
            whole = bytes(data[:written]).rfind(b"\n") + 1
            self._torn = written > whole
            self._pending.put_back(self._account(chunks, data[:whole]))
            with contextlib.suppress(OutputError):
                self._mend()
            raise self._failure(error) from error
        self._account(chunks, data)

    def _account(self, chunks: Sequence[Chunk], written: memoryview) -> list[Chunk]:
        """Count what is in the file now, and give what is not."""
        readings, rest = split_chunks(chunks, len(written))
        self._keep(chunks, written, readings)
        self._written.add(written, readings)
        return rest

    def _keep(self, chunks: Sequence[Chunk], written: memoryview, readings: int) -> None:
        """Keep what is no part of the head, which is kept by itself."""
        data = bytes(written[max(0, self._head_bytes - self._written.size) :])
        if data:
            times = [chunk for chunk in chunks if chunk.readings]
            first_ns = min((chunk.first_t_ns for chunk in times), default=0)
            self._kept.add(Chunk(data, readings, first_ns, max((c.last_t_ns for c in times), default=0)))

    def _mend(self) -> None:
        """Cut a line off that was written in part."""
        if self._torn:
            try:
                os.ftruncate(self._fd, self._written.size)
            except OSError as error:
                raise self._failure(error) from error
            self._torn = False

    def _failure(self, error: OSError) -> OutputError:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            return OutputError(
                f"The disk is full: {self.path.name} can't grow. What stands in it is whole; make room on the disk."
            )
        if error.errno == errno.EFBIG:
            return OutputError(
                f"{self.path.name} has reached the greatest size that is allowed for a file. What stands "
                "in it is whole."
            )
        return OutputError(f"{self.path.name} can't be written ({error.strerror}).")


def _chunk(lines: list[Line], is_reading: bool) -> Chunk:
    data = encode_lines(lines)
    if not is_reading:
        return Chunk(data)
    times = [line.t_ns for line in lines if isinstance(line, Reading)]
    return Chunk(data, len(times), min(times), max(times))


def _loss(lost: Chunk) -> Chunk:
    was = "was" if lost.readings == 1 else "were"
    text = (
        f"{counted(lost.readings, 'reading')} from {lost.first_t_ns / 1e9:.1f} s to {lost.last_t_ns / 1e9:.1f} s {was} "
        "lost: the recording could not be written and the memory set aside for it was full."
    )
    return Chunk(encode_lines([EventEntry(t_ns=lost.last_t_ns, kind="loss", text=text)]))


def _open_new(path: Path, *, force: bool) -> int:
    try:
        if force:
            _make_way(path)
        fd = os.open(
            path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0), 0o666
        )
    except FileExistsError as error:
        raise OutputError(f"{path.name} exists already; add --force to replace it.") from error
    except FileNotFoundError as error:
        raise OutputError(f"There is no folder {path.parent} to write {path.name} in.") from error
    except PermissionError as error:
        raise OutputError(f"You may not write {path.name} in {path.parent}: permission denied.") from error
    except OSError as error:
        raise OutputError(f"{path.name} can't be written: {error.strerror}.") from error
    lock_for_writing(fd)
    return fd


def _make_way(path: Path) -> None:
    """Remove what is there, so that who follows the old file sees that it is another one now."""
    try:
        mode = path.lstat().st_mode
    except FileNotFoundError:
        return
    if not (stat.S_ISREG(mode) or stat.S_ISLNK(mode)):
        raise OutputError(f"{path.name} is no ordinary file and is not replaced.")
    if writer_alive(path):
        raise OutputError(f"Another run is writing {path.name}; choose another name.")
    path.unlink()
