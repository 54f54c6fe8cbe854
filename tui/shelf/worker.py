"""The dashboard's side of the process that works results out."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from collections import deque
from pathlib import Path
from typing import IO, Protocol

import msgspec

from tui.shelf.messages import Part
from tui.shelf.summary import Summary

__all__ = ["Summaries", "SummaryProcess"]

_MOST_WAITING = 10_000


class Summaries(Protocol):
    """Gives recordings in short, sooner or later."""

    def want(self, path: Path) -> None:
        """Ask for a recording; the one asked for last comes first."""
        ...

    def take(self) -> list[Summary]:
        """Those that have come since the last call; never waits."""
        ...

    def busy(self) -> tuple[int, str, float]:
        """How many are still to come, which one is being read, and what part of it was, from 0 to 1."""
        ...

    def close(self) -> None:
        """End; may be called twice."""
        ...


class SummaryProcess:
    """Works results out one after the other in a process that is started when it is first needed."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._waiting: deque[str] = deque(maxlen=_MOST_WAITING)
        self._current: str | None = None
        self._part = 0.0
        self._done: list[Summary] = []
        self._process: subprocess.Popen[bytes] | None = None
        self._reader: threading.Thread | None = None
        self._closed = False

    def want(self, path: Path) -> None:
        with self._lock:
            if self._closed:
                return
            if str(path) == self._current and str(path) not in self._waiting:
                # It has changed since its reading began; as one that grows would keep all others back, it comes last.
                self._waiting.appendleft(str(path))
            elif str(path) not in self._waiting:
                self._waiting.append(str(path))
            if self._process is None:
                self._start()
            if self._current is None:
                self._next()

    def take(self) -> list[Summary]:
        with self._lock:
            done, self._done = self._done, []
            return done

    def busy(self) -> tuple[int, str, float]:
        with self._lock:
            current = self._current or ""
            return len(self._waiting) + (self._current is not None), Path(current).name, self._part

    def close(self) -> None:
        with self._lock:
            self._closed = True
            process, self._process = self._process, None
        if process is None:
            return
        process.terminate()
        if self._reader is not None:
            self._reader.join()
        _bury(process)

    def _start(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "tui.shelf"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=sys.platform != "win32",
        )
        self._reader = threading.Thread(target=self._read, args=(self._process.stdout,), daemon=True)
        self._reader.start()

    def _next(self) -> None:
        """Hand the newest wish over; the lock is held."""
        if not self._waiting or self._process is None or self._process.stdin is None:
            self._current = None
            return
        self._current, self._part = self._waiting.pop(), 0.0
        with contextlib.suppress(OSError):
            self._process.stdin.write(msgspec.json.encode(self._current) + b"\n")
            self._process.stdin.flush()

    def _read(self, pipe: IO[bytes]) -> None:
        for line in pipe:
            try:
                message = msgspec.json.decode(line, type=dict)
            except msgspec.DecodeError:
                break  # the process was killed while it wrote
            with self._lock:
                if set(message) == {"path", "part"}:
                    self._part = msgspec.convert(message, Part).part
                else:
                    self._done.append(msgspec.convert(message, Summary))
                    self._next()
        self._ended()

    def _ended(self) -> None:
        """The process is gone: what it was at is told as unreadable, and the rest gets a new process."""
        with self._lock:
            process, self._process = self._process, None
            if self._closed or process is None:
                return
            _bury(process)
            if self._current is not None:
                told = f"{Path(self._current).name} could not be worked out: the process that did so ended."
                self._done.append(Summary(path=self._current, state="unreadable", problems=[told]))
                self._current = None
            if self._waiting:
                self._start()
                self._next()


def _bury(process: subprocess.Popen[bytes]) -> None:
    """Close the pipes of a process that has ended or is about to, and wait for it."""
    with contextlib.suppress(OSError), process:
        pass
