"""Lines that a person types while a run is told line by line: readings for a keyed-in instrument."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable

__all__ = ["pass_typed_lines"]

_MOST_BYTES = 1000


def pass_typed_lines(take: Callable[[str], None]) -> None:
    """Hand on each line of standard input, in a thread that ends with the input or the program.

    It reads the descriptor itself: nothing is left locked when the program ends.
    """
    descriptor = sys.stdin.fileno()
    threading.Thread(target=_pass, args=(descriptor, take), name="spinvolt-typed", daemon=True).start()


def _pass(descriptor: int, take: Callable[[str], None]) -> None:
    rest = b""
    while data := _read(descriptor):
        *lines, rest = (rest + data).split(b"\n")
        rest = rest[:_MOST_BYTES]
        for line in lines:
            take(line[:_MOST_BYTES].decode("utf-8", "replace"))


def _read(descriptor: int) -> bytes:
    try:
        return os.read(descriptor, 4096)
    except OSError:  # closed or gone: the same as its end
        return b""
