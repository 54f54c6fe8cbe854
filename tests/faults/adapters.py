"""A counting instrument behind a USB adapter that is pulled, returns under any name, and misbehaves in between."""

from __future__ import annotations

import os
import pty
import threading
import time
import tty
from pathlib import Path
from typing import NamedTuple, Self

from tests.faults.port import drained, unread_bytes

__all__ = ["BEGUN_ANEW_S", "HASTE", "PERIOD_S", "Adapter", "Pull"]

PERIOD_S = 0.01
HASTE = 10
"""So many times too fast, for a while."""
BEGUN_ANEW_S = 1.0
"""After so long a pause in mid-line the reader is to know that a bare number was begun anew: it waits for 0.5 s, and a
busy machine shortens what it sees of the pause."""
_FIRST = 10_000_000
_OWNERS = 10
_ON_THE_WAY_S = 0.5
"""What is sent takes a moment to get into the port, and a busy machine makes it a long one."""
_LINES = (b"AC %d V\r\n", b"%d\r\n")


class Pull(NamedTuple):
    """One time without its plug, in counts of the instrument."""

    gone: int
    """The count that was next when it was pulled."""
    back: int
    """The count that was next when it was put back."""
    unread: int
    """Most lines that can be lost with the port: those in it, and those of the last moment, which may be on the way."""


class Adapter:
    """Counts for ever, also while unplugged. Use as a context manager.

    Each line's number has eight digits, so that no part of one is a number that was ever sent, and the last of
    them tells whose it is, so that a capture which reads the wrong adapter is found out.

    Args:
        folder: with ``dev`` and ``usb``; see :mod:`tests.faults.capture_child`.
        owner: 0 to 9. An odd one sends bare numbers, without a word or a unit.
    """

    def __init__(self, folder: Path, owner: int) -> None:
        self.owner = owner
        self.pulls: list[Pull] = []
        self.name = ""
        """Of its device; empty while it is out."""
        self._folder = folder
        self._line = _LINES[owner % 2]
        self._count = 0
        self._master = self._slave = -1
        self._rest = b""
        self._cut, self._halt_s, self._goes_on = 0, 0.0, False
        self._silent_until_s = self._hasty_until_s = 0.0
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, daemon=True)

    @property
    def count(self) -> int:
        """The count that its next line will carry; all below it were sent, but for those while it was out."""
        return self._count

    @property
    def idle(self) -> bool:
        """Plugged in and sending as it should."""
        busy_until_s = max(self._silent_until_s, self._hasty_until_s)
        return bool(self.name) and not self._rest and not self._cut and time.monotonic() > busy_until_s

    def count_of(self, value: float) -> int | None:
        """Which count a recorded value stands for; None where this instrument never sent such a number."""
        count, owner = divmod(round(value) - _FIRST, _OWNERS)
        return count if value == round(value) and owner == self.owner and count >= 0 else None

    def plug_in(self, name: str, first_words: bytes = b"") -> None:
        """Come back under that name, on whatever pseudo-terminal the system gives."""
        with self._lock:
            self._master, self._slave = pty.openpty()
            tty.setraw(self._slave)
            os.set_blocking(self._master, False)
            (self._folder / "usb" / name).write_text(f"serial-{self.owner}", encoding="ascii")
            (self._folder / "dev" / name).symlink_to(os.ttyname(self._slave))
            self.name = name
            self._say(first_words)
            if self.pulls:
                self.pulls[-1] = self.pulls[-1]._replace(back=self._count)

    def pull(self, last_words: bytes = b"", *, drain: bool = False) -> None:
        """Go away, perhaps in the middle of a line.

        Args:
            last_words: sent just before.
            drain: say no more until all is read, so that nothing of what was sent is lost with the port.
        """
        with self._lock:
            self._say(last_words)
            pace = HASTE if time.monotonic() < self._hasty_until_s else 1
            unread = 0
            if not (drain and drained(self._slave)):
                unread = unread_bytes(self._slave) // len(self._line) + round(pace * _ON_THE_WAY_S / PERIOD_S)
            (self._folder / "dev" / self.name).unlink()
            (self._folder / "usb" / self.name).unlink()
            os.close(self._slave)
            os.close(self._master)
            self._master, self.name, self._rest, self._cut = -1, "", b"", 0
            self._silent_until_s = self._hasty_until_s = 0.0
            self.pulls.append(Pull(self._count, -1, unread))

    def junk(self, data: bytes) -> None:
        """Send bytes that are no line."""
        with self._lock:
            if not self._rest:
                self._say(data)

    def hurry(self, seconds: float) -> None:
        """Send ten times too fast."""
        with self._lock:
            self._hasty_until_s = time.monotonic() + seconds

    def halt(self, digits: int, seconds: float, *, goes_on: bool) -> None:
        """Stop after so many digits of the next line, then finish it, or begin another.

        Args:
            digits: one to seven: with none of them the number was never said, and all of them are the whole number.
            seconds: for how long.
            goes_on: whether it finishes the line, as one that sends bare numbers does after a short pause anyway: two
                halves of two of them can't be told from one number.
        """
        with self._lock:
            self._cut = self._line.index(b"%") + digits
            self._halt_s = seconds
            self._goes_on = goes_on or (self._line.startswith(b"%") and seconds < BEGUN_ANEW_S)

    def __enter__(self) -> Self:
        self.plug_in(f"ttyUSB{self.owner}")
        self._thread.start()
        return self

    def __exit__(self, *exc_info: object) -> None:
        self._stop.set()
        self._thread.join(30)
        if self.name:
            self.pull()

    def _say(self, data: bytes) -> int:
        try:
            return os.write(self._master, data) if data else 0
        except BlockingIOError:
            return 0

    def _work(self) -> None:
        pause_s = PERIOD_S
        while not self._stop.wait(pause_s):
            with self._lock:
                now_s = time.monotonic()
                if now_s >= self._silent_until_s:
                    self._beat(now_s)
                pause_s = PERIOD_S / HASTE if now_s < self._hasty_until_s else PERIOD_S

    def _beat(self, now_s: float) -> None:
        if not self._rest:
            self._rest = self._line % (_FIRST + _OWNERS * self._count + self.owner)
            self._count += 1
            if self._cut:
                self._stop_half_way(now_s)
                return
        self._rest = self._rest[self._say(self._rest) :] if self.name else b""

    def _stop_half_way(self, now_s: float) -> None:
        self._say(self._rest[: self._cut])
        self._rest = self._rest[self._cut :] if self._goes_on else b""
        self._cut, self._silent_until_s = 0, now_s + self._halt_s
