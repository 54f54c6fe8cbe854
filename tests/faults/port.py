"""What stands unread in a pseudo-terminal, seen from the instrument's side."""

from __future__ import annotations

import fcntl
import os
import pty
import struct
import termios
import time
import tty

__all__ = ["drained", "unread_bytes"]

_LOOK_S, _EMPTY_LOOKS, _MOST_LOOKS = 0.01, 4, 1500


def unread_bytes(slave: int) -> int:
    """Bytes that have got there and were not read."""
    count: int = struct.unpack("i", fcntl.ioctl(slave, termios.FIONREAD, b"\0" * 4))[0]
    return count


def _let_pass() -> None:
    """Wait until a byte written now has got to its reader's side: the kernel hands over in turn, and on a busy machine
    that took 0.2 s.
    """
    ours, theirs = pty.openpty()
    try:
        tty.setraw(theirs)
        os.write(ours, b"x")
        while not unread_bytes(theirs):
            time.sleep(0.001)
    finally:
        os.close(theirs)
        os.close(ours)


def drained(slave: int) -> bool:
    """Wait until nothing has stood there for a while, for what is sent takes a moment to get there.

    Returns:
        False where somebody leaves it unread for longer than a busy machine keeps them from it: a quarter of a minute.
    """
    _let_pass()
    empty = 0
    for _ in range(_MOST_LOOKS):
        time.sleep(_LOOK_S)
        empty = 0 if unread_bytes(slave) else empty + 1
        if empty == _EMPTY_LOOKS:
            return True
    return False
