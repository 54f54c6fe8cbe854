"""The virtual bench as a process of its own, known through its ports alone."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import threading
import time
from collections.abc import Sequence
from typing import IO, Self

from daq.errors import SpinvoltError

__all__ = ["BenchProcess"]

_START_WITHIN_S = 20.0
_END_WITHIN_S = 3.0
_MOST_LINES = 100


class BenchProcess:
    """A running bench; a context manager that ends it.

    Attributes:
        instruments: (card, address) of each instrument, as ``-i`` takes them.
    """

    def __init__(self, command: Sequence[str], expected: int = 2) -> None:
        """Start it and wait for its instruments.

        Args:
            command: starts the bench.
            expected: how many instruments it has.

        Raises:
            SpinvoltError: it did not come up; the text says what it said.
        """
        self.instruments: list[tuple[str, str]] = []
        self._lines: queue.Queue[str | None] = queue.Queue(_MOST_LINES)
        # A session of its own: Ctrl-C in the terminal must not end the engine before the recording is closed.
        self._process = subprocess.Popen(
            [*command, "--end-with-stdin"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=os.name == "posix",
        )
        self._reader = threading.Thread(target=self._read, args=(self._process.stdout,), daemon=True)
        self._reader.start()
        try:
            self._await_instruments(expected)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """End it: by the end of its input, then harder. May be called twice."""
        if self._process.stdin is not None:
            with contextlib.suppress(OSError):
                self._process.stdin.close()
        for harder in (self._process.terminate, self._process.kill):
            try:
                self._process.wait(_END_WITHIN_S)
                break
            except subprocess.TimeoutExpired:
                harder()
        self._process.wait()
        self._reader.join(_END_WITHIN_S)
        if self._process.stdout is not None:
            self._process.stdout.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _await_instruments(self, expected: int) -> None:
        end_s = time.monotonic() + _START_WITHIN_S
        said: list[str] = []
        while len(self.instruments) < expected:
            try:
                line = self._lines.get(timeout=max(end_s - time.monotonic(), 0.0))
            except queue.Empty as error:
                raise SpinvoltError(
                    f"The virtual bench was not ready within {_START_WITHIN_S:g} s."
                ) from error
            if line is None:
                why = " ".join(said[-3:]) or "without a word"
                raise SpinvoltError(f"The virtual bench ended before it was ready: {why}")
            try:
                entry = json.loads(line)
                self.instruments.append((str(entry["card"]), str(entry["address"])))
            except (ValueError, KeyError, TypeError):
                said.append(line)

    def _read(self, pipe: IO[str]) -> None:
        for line in pipe:
            if line.strip():
                with contextlib.suppress(queue.Full):  # nobody listens any more; the pipe must not fill up
                    self._lines.put_nowait(line.strip())
        with contextlib.suppress(queue.Full):
            self._lines.put_nowait(None)
