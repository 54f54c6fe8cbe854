"""The capture's standard input and output, as lines that never hold the event loop up."""

from __future__ import annotations

import asyncio
import contextlib
import io
import os
import stat
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

import msgspec

from daq.capture.spec import Status

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer

__all__ = ["LineReader", "StatusWriter", "lossy_log", "watch_lines"]

MAX_LINE_BYTES = 4 * 1024 * 1024
_WAITING_LINES = 100


class LineReader:
    """Lines from a file descriptor, without Python's buffers: a thread in them would hang the exit."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self._held = b""

    def next_line(self) -> bytes | None:
        """The next line without its end; None when there will be no more.

        Raises:
            ValueError: a line is longer than 4 MiB.
        """
        while b"\n" not in self._held:
            try:
                data = os.read(self._fd, 65536)
            except OSError:
                return None
            if not data:
                return None
            self._held += data
            if len(self._held) > MAX_LINE_BYTES and b"\n" not in self._held:
                raise ValueError("the line is longer than 4 MiB")
        line, _, self._held = self._held.partition(b"\n")
        return line


def watch_lines(
    reader: LineReader, loop: asyncio.AbstractEventLoop, handle: Callable[[bytes | None], None]
) -> None:
    """Call ``handle`` in the loop with each further line, then with None at the end.

    At most 100 lines wait for the loop; then the reading waits, and with it the sender.
    """
    room = threading.BoundedSemaphore(_WAITING_LINES)

    def in_loop(line: bytes | None) -> None:
        room.release()
        handle(line)

    def work() -> None:
        while True:
            try:
                line = reader.next_line()
            except ValueError:
                line = None
            room.acquire()
            try:
                loop.call_soon_threadsafe(in_loop, line)
            except RuntimeError:
                return  # the loop has ended first
            if line is None:
                return

    threading.Thread(target=work, name="control lines", daemon=True).start()


class StatusWriter:
    """Writes status messages; a reader that is slow or gone never stops the capture.

    Attributes:
        lost: messages that nobody took.
    """

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self.lost = 0
        _never_wait(fd)

    def send(self, status: Status) -> None:
        """Write one message as one line."""
        try:
            os.write(self._fd, msgspec.json.encode(status) + b"\n")
        except OSError:
            self.lost += 1


def lossy_log(fd: int) -> io.TextIOWrapper:
    """A text stream for what goes wrong, such as tracebacks; what nobody reads is dropped, and never waited for."""
    _never_wait(fd)
    return io.TextIOWrapper(
        _Lossy(fd, "w", closefd=False), encoding="utf-8", errors="backslashreplace", write_through=True
    )


class _Lossy(io.FileIO):
    def write(self, data: ReadableBuffer, /) -> int:
        with contextlib.suppress(OSError):
            super().write(data)
        return memoryview(data).nbytes


def _never_wait(fd: int) -> None:
    # A terminal would stay in that mode after us, and a file never blocks.
    if os.name == "posix" and stat.S_ISFIFO(os.fstat(fd).st_mode):
        os.set_blocking(fd, False)
