"""The thread that hands the recording to the operating system: each 0.05 s, and to the disk each second."""

from __future__ import annotations

import asyncio
import contextlib
import tempfile
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

from daq.errors import OutputError
from daq.model.counted import counted
from daq.recording.entries import Line
from daq.recording.writer import RecordingWriter

__all__ = ["FLUSH_EVERY_S", "SLOW_S", "Sink"]

FLUSH_EVERY_S = 0.05
"""A screen shows a reading 0.15 s after it came: this is a third of that."""
SLOW_S = 2.0
"""A disk that has kept its writer waiting for so long is told of."""
_SYNC_EVERY_FLUSHES = 20
_CLOSE_TRIES = 4
_CLOSE_AGAIN_S = 0.2


class Sink:
    """Keeps a slow or full disk away from the event loop.

    ``put`` only fills the writer's buffer, which is bounded: beyond its limit
    the oldest readings go, and the loss becomes an event in the recording.

    Args:
        writer: freshly created.
        on_stall: called in the loop with the sentence when the disk stops taking data.
        on_resume: called in the loop with the sentence when all is well again.
    """

    def __init__(
        self, writer: RecordingWriter, on_stall: Callable[[str], None], on_resume: Callable[[str], None]
    ) -> None:
        self._writer = writer
        self._on_stall = on_stall
        self._on_resume = on_resume
        self._loop = asyncio.get_running_loop()
        self._stopping = threading.Event()
        self._pause = threading.Event()  # never set: a sleep that needs no clock
        self._stopped = asyncio.Event()
        self._busy_since_s: float | None = None
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

    def tick(self) -> None:
        """Tell of a disk that makes its writer wait without a word; a few times a second, in the loop."""
        since_s = self._busy_since_s
        if since_s is not None and not self._stalled and self._loop.time() - since_s > SLOW_S:
            self._stalled = True
            self._on_stall(
                f"The disk has taken nothing for {SLOW_S:g} s: {self._writer.path.name} can't grow. What comes "
                "meanwhile is held in memory."
            )

    async def close(self, now_ns: Callable[[], int], reason: str) -> int:
        """Write all there is and the closing line.

        Args:
            now_ns: time since the session's start.
            reason: why the run ended.

        Returns:
            How many readings stand in the recording.

        Raises:
            OutputError: the disk did not take all of it within a second; says where the rest is.
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
        self._busy_since_s = self._loop.time()
        word = "The disk takes the recording again." if self._stalled else ""
        try:
            self._writer.flush()
            if sync:
                if self._writer.put_back_if_removed():
                    word = (
                        f"{self._writer.path.name} was removed during the run and has been put back, whole."
                    )
                self._writer.sync()
        except OutputError as error:
            if not self._stalled:
                self._stalled = True
                self._loop.call_soon_threadsafe(self._on_stall, str(error))
            return
        finally:
            self._busy_since_s = None
        if word or self._stalled:
            self._stalled = False
            self._loop.call_soon_threadsafe(self._on_resume, word or "The disk takes the recording again.")

    def _close(self, now_ns: Callable[[], int], reason: str) -> None:
        for attempt in range(1, _CLOSE_TRIES + 1):
            try:
                self._writer.put_back_if_removed()
                self._writer.close(now_ns(), reason)
            except OutputError as error:
                self._error = error
                if attempt < _CLOSE_TRIES:
                    self._pause.wait(_CLOSE_AGAIN_S)
            else:
                self._error = None
                return
        self._error = OutputError(f"{self._error} {self._save_rest(now_ns(), reason)}")

    def _save_rest(self, t_ns: int, reason: str) -> str:
        """Put what the disk did not take into another place; says where."""
        for folder in (_home(), Path(tempfile.gettempdir())):
            path = None if folder is None else _free_name(folder, f"{self._writer.path.stem}-rest")
            if path is None:
                continue
            try:
                if self._writer.put_back_if_removed(path):
                    self._writer.close(t_ns, reason)
                    return f"The whole recording is in {path}."
                readings = self._writer.save_rest(path, t_ns, reason)
            except OutputError:
                continue
            left = counted(readings, "reading that it did not take is", "readings that it did not take are")
            return f"The {left} in {path}."
        return "No other place took them either."


def _free_name(folder: Path, stem: str) -> Path | None:
    names = [f"{stem}.jsonl", *(f"{stem}-{number}.jsonl" for number in range(2, 100))]
    return next((folder / name for name in names if not (folder / name).exists()), None)


def _home() -> Path | None:
    try:
        return Path.home()
    except RuntimeError:
        return None
