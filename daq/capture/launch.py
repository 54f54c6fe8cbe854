"""The parent's side of a capture: start the process, hear that the recording is open, talk to it."""

from __future__ import annotations

import contextlib
import os
import queue
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Sequence
from pathlib import Path
from typing import IO, Any, Self

import msgspec

from daq.capture.held import HeldBack
from daq.capture.last_words import how_it_ended
from daq.capture.spec import (
    CaptureSpec,
    Closed,
    Failed,
    RecordingMoved,
    RecordingStarted,
    Status,
    decode_status,
)
from daq.errors import SpinvoltError, UsageError

__all__ = ["CaptureProcess"]

_START_WITHIN_S = 30.0
_CLOSE_WITHIN_S = 3.0
"""One that is well closes its recording within a second, and says at once that it does."""
_END_WITHIN_S = 1.0
"""After its last word nothing is at stake."""
_MOST_STATUSES = 1000
_LAST_WORDS = 20
_COMMAND = (sys.executable, "-P", "-m", "daq.capture")


class CaptureProcess:
    """A running capture. Use :meth:`start`; leave it with :meth:`wait` or as a context manager.

    It runs in a session of its own, so that Ctrl-C in the terminal reaches
    only the parent, which then asks it to stop. Nothing here is async; the
    pipes are read by two threads with bounded memory.

    Attributes:
        path: the recording; once it is open, under the name that was free. Where something else changes
            the file, the capture goes on in another, which this names from then on.
        left: names of the files that it has left so, oldest first.
        early: statuses that came before the recording was open (instruments refused).
        statuses_lost: statuses dropped because nobody took them.
    """

    def __init__(self, process: subprocess.Popen[bytes], path: str) -> None:
        """Use :meth:`start`."""
        self.path = path
        self.left: tuple[str, ...] = ()
        self.early: list[Status] = []
        self.statuses_lost = 0
        self._process = process
        self._last: Closed | Failed | None = None
        self._held = HeldBack()
        self._left_alone = False
        self._statuses: queue.Queue[Status | None] = queue.Queue(_MOST_STATUSES)
        self._stderr: deque[str] = deque(maxlen=_LAST_WORDS)
        self._ended = threading.Event()
        self._readers = [
            threading.Thread(target=self._read_statuses, args=(process.stdout,), daemon=True),
            threading.Thread(target=self._read_stderr, args=(process.stderr,), daemon=True),
        ]
        for reader in self._readers:
            reader.start()

    @classmethod
    def start(
        cls,
        spec: CaptureSpec,
        *,
        timeout_s: float = _START_WITHIN_S,
        command: Sequence[str] = _COMMAND,
    ) -> Self:
        """Start a capture and wait until its recording is open.

        Args:
            spec: what to capture and where to.
            timeout_s: how long the recording's opening may take.
            command: the program to run, for one that gives the capture another clock than the computer's.

        Raises:
            UsageError: what was asked for makes no sense, such as an address that can't be one.
            SpinvoltError: it could not start; the text is its sentence, or the sentences of all instruments.
        """
        process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            **_own_session(),
        )
        capture = cls(process, spec.path)
        try:
            capture._send(msgspec.json.encode(spec))
            capture._await_recording(timeout_s)
        except BaseException:
            capture.close()
            raise
        return capture

    @property
    def running(self) -> bool:
        """Whether the process is alive."""
        return self._process.poll() is None

    @property
    def ended(self) -> bool:
        """Whether all has come that it will ever say; ``path`` is final then."""
        return self._last is not None or not self._readers[0].is_alive()

    @property
    def died(self) -> bool:
        """Whether it ended without a last word, and so looks after its recording no more."""
        return self.ended and self._last is None

    @property
    def holds(self) -> bool:
        """Whether it may hold readings that its disk has not taken, as far as it has said: then it is never killed."""
        return self.running and self._held.something

    @property
    def held_s(self) -> float:
        """For how long the disk has not taken the rest, as far as the capture has said; 0 where it is not behind."""
        return self._held.for_s

    @property
    def pid(self) -> int:
        """Its process id."""
        return self._process.pid

    def stop(self, reason: str = "stopped by hand") -> None:
        """Ask it to close the recording and end; :meth:`wait` tells how it went."""
        self._do(do="stop", reason=reason)

    def mark(self, text: str) -> None:
        """Put a mark into the recording, now."""
        self._do(do="mark", text=text)

    def step(self, step: str, state: str, text: str = "") -> None:
        """Note that a step of the job sheet changed its state."""
        self._do(do="step", step=step, state=state, text=text)

    def key(self, line: str, instrument: str = "keyboard") -> None:
        """Hand a typed line to a keyed-in instrument."""
        self._do(do="key", instrument=instrument, line=line)

    def poll_status(self) -> list[Status]:
        """Take the statuses that have come since the last call; never waits."""
        taken: list[Status] = []
        while True:
            try:
                status = self._statuses.get_nowait()
            except queue.Empty:
                return taken
            if status is not None:
                taken.append(status)

    def wait(self, timeout_s: float | None = None) -> Closed:
        """Wait for the end.

        Raises:
            TimeoutError: it goes on.
            SpinvoltError: it failed; the text is its sentence.
        """
        try:
            self._process.wait(timeout_s)
        except subprocess.TimeoutExpired as error:
            if self._last is None:
                raise TimeoutError(f"the capture still runs after {timeout_s} s") from error
        self.close(_END_WITHIN_S)
        if isinstance(self._last, Closed):
            return self._last
        raise self._failure()

    def close(self, timeout_s: float = _CLOSE_WITHIN_S) -> None:
        """End it if it runs, or leave it alone where it holds readings; may be called twice.

        First its input ends, at which it closes the recording. One that does not end then, and holds nothing
        that could be lost, is hung: SIGTERM, then a kill. One that is known to wait for its disk is left at once.
        See :attr:`holds` and :meth:`leave`.
        """
        if self._left_alone:
            return
        self._close_input()
        for harder in (self._process.terminate, self._process.kill, None):
            if self._ends_within(0 if self._held.late else timeout_s):
                self._let_go(timeout_s)
                return
            if harder is None or self.holds:
                self.leave()  # also one that is killed and waits in the system for a disk: it ends with that
                return
            harder()

    def leave(self) -> None:
        """Wait for it no more: it closes its recording when the disk takes the rest, and ends by itself.

        It outlives this program too. Neither a process nor a pipe is left behind where this one lasts longer.
        """
        self._close_input()
        if not self._left_alone:
            self._left_alone = True
            threading.Thread(target=self._let_go, name="capture left alone", daemon=True).start()

    def _ends_within(self, timeout_s: float) -> bool:
        try:
            self._process.wait(timeout_s)
        except subprocess.TimeoutExpired:
            return False
        return True

    def _let_go(self, timeout_s: float | None = None) -> None:
        self._process.wait()
        for reader in self._readers:
            reader.join(timeout_s)
        for pipe in (self._process.stdout, self._process.stderr):
            if pipe is not None:
                pipe.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _await_recording(self, timeout_s: float) -> None:
        while True:
            try:
                status = self._statuses.get(timeout=timeout_s)
            except queue.Empty as error:
                raise SpinvoltError(
                    f"The capture did not open its recording within {timeout_s:g} s."
                ) from error
            if status is None or isinstance(status, Failed | Closed):
                self._process.wait(timeout_s)
                raise self._failure()
            if isinstance(status, RecordingStarted):
                self.path = status.path
                return
            self.early.append(status)

    def _failure(self) -> SpinvoltError:
        if isinstance(self._last, Failed):
            return UsageError(self._last.text) if self._last.usage else SpinvoltError(self._last.text)
        return SpinvoltError(
            how_it_ended(self._process.returncode, " ".join(self._stderr).strip(), self._held)
        )

    def _do(self, **message: str) -> None:
        # One that has ended can't be told anything, and wait() tells what became of it.
        with contextlib.suppress(OSError, ValueError):
            self._send(msgspec.json.encode(message))

    def _send(self, line: bytes) -> None:
        pipe = self._process.stdin
        if pipe is None:
            raise UsageError("the capture has no input")
        with contextlib.suppress(BrokenPipeError):
            pipe.write(line + b"\n")
            pipe.flush()

    def _close_input(self) -> None:
        if self._process.stdin is not None:
            with contextlib.suppress(OSError):
                self._process.stdin.close()

    def _read_statuses(self, pipe: IO[bytes]) -> None:
        for line in pipe:
            try:
                status = decode_status(line)
            except msgspec.DecodeError:
                self._stderr.append(line.decode("utf-8", "replace").rstrip())
                continue
            self._held.take(status)
            if isinstance(status, Closed | Failed):
                self._last = status
            elif isinstance(status, RecordingMoved):
                self._move(status.path)
            self._put(status)
        self._held.ended()
        self._put(None)

    def _move(self, path: str) -> None:
        if path != self.path:
            self.left = (*self.left, Path(self.path).name)
        self.path = path

    def _put(self, status: Status | None) -> None:
        try:
            self._statuses.put_nowait(status)
        except queue.Full:
            self.statuses_lost += 1

    def _read_stderr(self, pipe: IO[bytes]) -> None:
        for line in pipe:
            self._stderr.append(line.decode("utf-8", "replace").rstrip())


def _own_session() -> dict[str, Any]:
    if sys.platform == "win32":
        return {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
    return {"start_new_session": os.name == "posix"}
