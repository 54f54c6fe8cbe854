"""Steps that belong together and are quick: a signal that comes between them waits for the last."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

__all__ = ["undisturbed"]

_NAMES = ("SIGALRM", "SIGHUP", "SIGTERM", "SIGINT")


@contextmanager
def undisturbed() -> Iterator[None]:
    """Hold signals off that somebody handles here, such as Ctrl-C, until the body has ended; then they come.

    What is handled by the system's own rules, such as a kill, is not held off. Python interrupts its main thread
    alone, so that in another there is nothing to do.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    before: dict[int, Any] = {}
    try:
        for number in _numbers():
            handler = signal.getsignal(number)
            if callable(handler):
                before[number] = handler
                signal.signal(number, lambda number, _: came.append(number))
        yield
    finally:
        interrupted = _given_back(before)
        for each in dict.fromkeys(came):
            signal.raise_signal(each)
        if interrupted is not None:
            raise interrupted


def _given_back(before: dict[int, Any]) -> KeyboardInterrupt | None:
    """Put the handlers back, also where one of them interrupts this; gives that interruption."""
    interrupted = None
    while before:
        try:
            number = next(iter(before))
            signal.signal(number, before[number])
            del before[number]
        except KeyboardInterrupt as error:
            interrupted = error
    return interrupted


def _numbers() -> list[signal.Signals]:
    return [getattr(signal, name) for name in _NAMES if hasattr(signal, name)]
