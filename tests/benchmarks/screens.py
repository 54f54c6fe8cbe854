"""A terminal for benchmarks: a program on a pseudo-terminal, whose output is read and looked through."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import re
import struct
import subprocess
import termios
import threading
import time
from collections.abc import Mapping, Sequence

__all__ = ["Terminal"]

_ESCAPES = re.compile(
    rb"\x1b\[[0-9;?]*[ -/]*[@-~]|\x1b[\]P][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[()][A-Z0-9]|\x1b."
)
_KEEP = 400_000


class Terminal:
    """Runs a program, reads all it draws, and remembers when what was drawn.

    Attributes:
        process: the program.
        bytes_drawn: how much it drew.
    """

    def __init__(
        self, command: Sequence[str], columns: int, rows: int, *, environment: Mapping[str, str] | None = None
    ) -> None:
        self._ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.began_s = time.perf_counter()
        self.process = subprocess.Popen(
            command,
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            env={**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor", **(environment or {})},
        )
        os.close(theirs)
        self.bytes_drawn = 0
        self._seen = b""
        self._news = threading.Condition()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        while True:
            try:
                data = os.read(self._ours, 65536)
            except OSError:
                data = b""
            with self._news:
                self.bytes_drawn += len(data)
                self._seen = (self._seen + data)[-_KEEP:]
                self._news.notify_all()
            if not data:
                return

    def forget(self) -> None:
        """Forget what was drawn so far."""
        with self._news:
            self._seen = b""

    def wait_for(self, text: str, timeout_s: float = 30.0) -> float:
        """Wait until that text was drawn in one go; gives the moment."""
        wanted, end_s = text.encode(), time.perf_counter() + timeout_s
        with self._news:
            while wanted not in _ESCAPES.sub(b"", self._seen):
                if not self._news.wait(max(end_s - time.perf_counter(), 0)) or time.perf_counter() > end_s:
                    raise TimeoutError(f"{text!r} was not drawn")
        return time.perf_counter()

    def keys(self, keys: str) -> None:
        """Press keys."""
        os.write(self._ours, keys.encode())

    def cpu_s(self) -> float:
        """Processor time of the program itself, without those that it started."""
        with open(f"/proc/{self.process.pid}/stat", "rb") as file:
            fields = file.read().rpartition(b")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def close(self, timeout_s: float = 20.0) -> None:
        """End the program."""
        if self.process.poll() is None:
            with contextlib.suppress(OSError):
                self.keys("q")
            try:
                self.process.wait(timeout_s)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        os.close(self._ours)
        self._reader.join(2)
