"""The thread that hands the recording to the operating system: each 0.2 s, and to the disk each second."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Sequence

from daq.errors import OutputError
from daq.recording.entries import Line
from daq.recording.writer import RecordingWriter

__all__ = ["FLUSH_EVERY_S", "Sink"]

FLUSH_EVERY_S = 0.2
_SYNC_EVERY_FLUSHES = 5
_CLOSE_TRIES = 4


class Sink:
    """Keeps a slow or full disk away from the event loop.

    ``put`` only fills the writer's buffer, which is bounded: beyond its limit
    the oldest readings go, and the loss becomes an event in the recording.

    Args:
        writer: freshly created.
        on_stall: called in the loop with the sentence when the disk stops taking data.
        on_resume: called in the loop when it takes data again.
    """

    def __init__(
        self, writer: RecordingWriter, on_stall: Callable[[str], None], on_resume: Callable[[], None]
    ) -> None:
        self._writer = writer
        self._on_stall = on_stall
        self._on_resume = on_resume
        self._loop = asyncio.get_running_loop()
        self._stopping = threading.Event()
        self._pause = threading.Event()  # never set: a sleep that needs no clock
        self._stopped = asyncio.Event()
        self._stalled = False
        self._discarding = False
        self._last: tuple[Callable[[], int], str] | None = None
        self._error: OutputError | None = None
        self._thread = threading.Thread(target=self._work, name="recording", daemon=True)
        self._thread.start()

    def put(self, lines: Sequence[Line]) -> None:
        """Take lines; never blocks on the disk. What comes after the end is dropped."""
        if not self._stopping.is_set():
            self._writer.write(lines)

    async def close(self, now_ns: Callable[[], int], reason: str) -> int:
        """Write all there is and the closing line.

        Args:
            now_ns: time since the session's start.
            reason: why the run ended.

        Returns:
            How many readings stand in the recording.

        Raises:
            OutputError: the disk did not take all of it within a second.
        """
        self._last = (now_ns, reason)
        await self._stop()
        if self._error is not None:
            raise self._error
        return self._writer.readings

    async def discard(self) -> None:
        """Remove the recording: nothing of worth is in it."""
        self._discarding = True
        await self._stop()

    async def _stop(self) -> None:
        self._stopping.set()
        await self._stopped.wait()
        self._thread.join(0.1)

    def _work(self) -> None:
        flushes = 0
        try:
            while not self._stopping.wait(FLUSH_EVERY_S):
                flushes += 1
                self._flush(sync=flushes % _SYNC_EVERY_FLUSHES == 0)
            if self._last is not None:
                self._close(*self._last)
        finally:
            self._writer.abandon()
            if self._discarding:
                with contextlib.suppress(OSError):
                    self._writer.path.unlink()
            with contextlib.suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self._stopped.set)

    def _flush(self, *, sync: bool) -> None:
        try:
            self._writer.flush()
            if sync:
                self._writer.sync()
        except OutputError as error:
            if not self._stalled:
                self._stalled = True
                self._loop.call_soon_threadsafe(self._on_stall, str(error))
            return
        if self._stalled:
            self._stalled = False
            self._loop.call_soon_threadsafe(self._on_resume)

    def _close(self, now_ns: Callable[[], int], reason: str) -> None:
        for attempt in range(1, _CLOSE_TRIES + 1):
            try:
                self._writer.close(now_ns(), reason)
            except OutputError as error:
                self._error = error
                if attempt < _CLOSE_TRIES:
                    self._pause.wait(FLUSH_EVERY_S)
            else:
                self._error = None
                return
