"""A terminal for the dashboard: a pseudo-terminal whose far end can stop reading, or go."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import signal
import struct
import subprocess
import sys
import termios
import threading
from pathlib import Path
from typing import Self

from tests.tui.program import COMMAND, environment

__all__ = ["Terminal"]

_ROWS_COLUMNS = struct.pack("HHHH", 30, 100, 0, 0)


def _take_terminal() -> None:
    # As it is under what was itself started to outlive its terminal.
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


class Terminal:
    """A terminal in which the program runs. Use as a context manager.

    Attributes:
        process: the program.
    """

    def __init__(self, folder: Path, *arguments: str, own: bool = True) -> None:
        """Start the program.

        Args:
            folder: where it runs.
            arguments: its command line.
            own: the terminal is the program's controlling one, whose end it is told of by a signal.
        """
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, _ROWS_COLUMNS)
        self.process = subprocess.Popen(
            [*COMMAND, *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=folder,
            env={**environment(folder), "TERM": "xterm-256color", "PYTHONPATH": os.pathsep.join(sys.path)},
            start_new_session=True,
            preexec_fn=_take_terminal if own else None,
        )
        os.close(slave)
        self._read = 0
        self._reading = threading.Event()
        self._reading.set()
        self._gone = threading.Event()
        self._reader = threading.Thread(target=self._work, daemon=True)
        self._reader.start()

    @property
    def read(self) -> int:
        """Bytes that the program has shown so far and the terminal has taken."""
        return self._read

    @property
    def is_a_shells(self) -> bool:
        """Whether it echoes what is typed and hands it on by the line, as a shell's programs find it."""
        wanted = termios.ECHO | termios.ICANON | termios.ISIG
        return bool(termios.tcgetattr(self._master)[3] & wanted == wanted)

    def stop_reading(self) -> None:
        """Take nothing more, as a terminal behind a stalled line does."""
        self._reading.clear()

    def go_on_reading(self) -> None:
        """Take what comes again."""
        self._reading.set()

    def type(self, keys: str) -> None:
        """Press keys."""
        os.write(self._master, keys.encode())

    def go(self) -> None:
        """Close the window. May be called twice."""
        if not self._gone.is_set():
            self._gone.set()
            self._reading.set()
            self._reader.join(5)
            os.close(self._master)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.go()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(5)
        self.process.kill()
        self.process.wait()

    def _work(self) -> None:
        os.set_blocking(self._master, False)
        while not self._gone.is_set():
            self._reading.wait()
            try:
                self._read += len(os.read(self._master, 65536))
            except BlockingIOError:
                self._gone.wait(0.01)
            except OSError:
                return  # the program has ended
