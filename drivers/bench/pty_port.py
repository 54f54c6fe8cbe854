"""A pseudo-terminal as a serial port. Only where the system has them."""

from __future__ import annotations

import array
import contextlib
import fcntl
import os
import termios
import tty

__all__ = ["PtyPort"]


class PtyPort:
    """The bench keeps the far end open too, so that the port lives on when a caller closes it.

    Nobody can tell then whether a caller is there. So lines that lie unread are
    thrown away once they are more than ``most_unread`` bytes.
    """

    def __init__(self, most_unread: int) -> None:
        self._near, self._far = os.openpty()
        tty.setraw(self._far)
        os.set_blocking(self._near, False)
        self._most_unread = most_unread
        self._open = True
        self.address = os.ttyname(self._far)

    def read(self) -> bytes:
        if not self._open:
            return b""
        try:
            return os.read(self._near, 4096)
        except OSError:  # nothing there, or the caller has just gone
            return b""

    def write(self, data: bytes) -> None:
        if not self._open:
            return
        if self._unread() > self._most_unread:
            termios.tcflush(self._far, termios.TCIFLUSH)
        with contextlib.suppress(OSError):  # full: lost, as on a serial line
            os.write(self._near, data)

    def close(self) -> None:
        if self._open:
            self._open = False
            os.close(self._near)
            os.close(self._far)

    def _unread(self) -> int:
        count = array.array("i", [0])
        fcntl.ioctl(self._far, termios.FIONREAD, count)
        return count[0]
