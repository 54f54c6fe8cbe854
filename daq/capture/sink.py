"""The thread that hands the recording to the operating system: each 0.05 s, and to the disk each second."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

from daq.capture.elsewhere import free_names, other_folders, told_of_rest
from daq.errors import OutputError
from daq.recording.entries import EventEntry, Line
from daq.recording.moved import Moved
from daq.recording.own_file import GIVE_BACK
from daq.recording.writer import RecordingWriter

__all__ = ["FLUSH_EVERY_S", "SLOW_S", "Sink"]

FLUSH_EVERY_S = 0.05
"""A screen shows a reading 0.15 s after it came: this is a third of that."""
SLOW_S = 2.0
"""A disk that has kept its writer waiting for so long is told of."""
_SYNC_EVERY_FLUSHES = 20
_HELD = "What comes meanwhile is held in memory."
"""How much that is changes while the sentence stands: no amount is named."""
_CLOSE_TRIES = 4
_CLOSE_AGAIN_S = 0.2
_COMPARE_FOR_S = 3.0
"""What is read again before the end: a day's 80 MB take a tenth of a second, and 3 s are some gigabytes."""


class Sink:
    """Keeps a slow or full disk away from the event loop.

    ``put`` only fills the writer's buffer, which is bounded: beyond its limit
    the oldest readings go, and the loss becomes an event in the recording.

    Args:
        writer: freshly created.
        on_stall: called in the loop with the sentence when the disk stops taking data.
        on_resume: called in the loop with the sentence when all is well again.
        on_moved: called in the loop when the recording goes on in another file; its event is there already.
        now_ns: time since the session's start.
    """

    def __init__(
        self,
        writer: RecordingWriter,
        on_stall: Callable[[str], None],
        on_resume: Callable[[str], None],
        on_moved: Callable[[Moved], None],
        now_ns: Callable[[], int],
    ) -> None:
        self._writer = writer
        self._on_stall = on_stall
        self._on_resume = on_resume
        self._on_moved = on_moved
        self._now_ns = now_ns
        self._loop = asyncio.get_running_loop()
        self._stopping = threading.Event()
        self._pause = threading.Event()  # never set: a sleep that needs no clock
        self._stopped = asyncio.Event()
        self._busy_since_s: float | None = None
        self._stalled = False
        self._homeless = False
        """The file is removed or spoilt, and no other could be made."""
        self._discarding = False
        self._last: str | None = None
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
                f"The disk has taken nothing for {SLOW_S:g} s: {self._writer.path.name} can't grow. {_HELD}"
            )

    async def close(self, reason: str) -> int:
        """Write all there is and the closing line.

        Args:
            reason: why the run ended.

        Returns:
            How many readings stand in the recording.

        Raises:
            OutputError: the disk did not take all of it within a second; says where the rest is.
        """
        self._last = reason
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
                self._close(self._last)
        finally:
            if self._discarding:
                with contextlib.suppress(OSError):
                    self._writer.remove()
            self._writer.abandon()
            with contextlib.suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self._stopped.set)

    def _flush(self, *, sync: bool) -> None:
        self._busy_since_s = self._loop.time()
        word = "The disk takes the recording again." if self._stalled else ""
        try:
            if sync or not self._homeless:
                word = self._keep_a_file(thorough=sync) or word
            self._writer.flush()
            if sync:
                self._writer.sync()
        except OutputError as error:
            if not self._stalled:
                self._stalled = True
                self._loop.call_soon_threadsafe(self._on_stall, f"{error} {_HELD}")
            return
        finally:
            self._busy_since_s = None
        if self._homeless:
            return  # what was written is in a file that nobody can find
        if word or self._stalled:
            self._stalled = False
            self._loop.call_soon_threadsafe(self._on_resume, word or "The disk takes the recording again.")

    def _keep_a_file(self, elsewhere: Path | None = None, *, thorough: bool = True) -> str:
        """Go on in another file where something else took or changed ours.

        Returns:
            What is to be told of one that has its name again.
        """
        try:
            moved = self._writer.go_on_if_changed(elsewhere, thorough=thorough)
        except OutputError:
            self._homeless = True
            raise
        self._homeless = self._homeless and not thorough
        if moved is None:
            return ""
        if moved.back:
            return moved.text
        self._stalled = False
        kind = "note" if moved.whole else "loss"
        self._writer.write([EventEntry(t_ns=self._now_ns(), kind=kind, text=moved.text)])
        self._loop.call_soon_threadsafe(self._on_moved, moved)
        return ""

    def _close(self, reason: str) -> None:
        until_s = self._loop.time() + _COMPARE_FOR_S
        self._writer.compare(lambda: self._loop.time() > until_s)
        for attempt in range(1, _CLOSE_TRIES + 1):
            try:
                self._keep_a_file()
                self._writer.close(self._now_ns(), reason)
            except OutputError as error:
                self._error = error
                if attempt < _CLOSE_TRIES:
                    self._pause.wait(_CLOSE_AGAIN_S)
            else:
                self._error = None
                return
        told = self._save_rest(reason)
        # That the file is kept as long as the run goes on is no comfort any more.
        self._error = OutputError(f"{str(self._error).replace(GIVE_BACK, '')} {told}") if told else None

    def _save_rest(self, reason: str) -> str:
        """Put what the disk did not take into other places; says where, or nothing where one is a whole recording."""
        if not (self._homeless or self._writer.pending_bytes):
            return "Only its closing line is missing."
        stem = f"{self._writer.path.stem}-rest"
        files: list[Path] = []
        saved = 0
        for folder in other_folders():
            for path in free_names(folder, stem):
                try:
                    self._keep_a_file(path)
                    if self._writer.path == path:
                        self._writer.close(self._now_ns(), reason)
                        return ""
                    saved += self._writer.save_rest(path, self._now_ns(), reason)
                except OutputError:
                    break
                files.append(path)
                if not self._writer.pending_bytes:
                    return told_of_rest(files, saved, 0)
        held = self._writer.readings if self._homeless else 0
        return told_of_rest(files, saved, self._writer.pending_readings + held)
