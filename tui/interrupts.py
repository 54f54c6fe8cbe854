"""Signals that end the program: each is one interruption, whatever they meet and however many come.

SIGTERM and SIGHUP interrupt as Ctrl-C does, so that what is half written is taken away again. A command with
handlers of its own, such as a run, takes their place while it lasts.
"""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

__all__ = ["Interruptions", "usual_interrupts"]

_BURST_S = 1.0
"""Those that come so soon after one are the same: they would only tear what it ends in good order."""
_RETRY_S = 0.01
_IMPORT_PATIENCE_S = 5.0
_NAMES = ("SIGINT", "SIGTERM", "SIGHUP")


class Interruptions:
    """Turns signals into ``KeyboardInterrupt``, in the main thread of a program on its own.

    Within an import one waits for the import's end: modules take an exception there for a part that is not
    installed, and go on. One that was raised where Python can only print it, such as in the clearing away of
    an object, is raised again.

    Attributes:
        asked: whether the end was asked for.
    """

    def __init__(self) -> None:
        """Take the signals that nobody has taken and nobody wants ignored, such as by nohup."""
        self.asked = False
        self._asked_s = 0.0
        self._raised_s: float | None = None
        self._retries = hasattr(signal, "setitimer")
        for number in _numbers():
            if signal.getsignal(number) in (signal.SIG_DFL, signal.default_int_handler):
                signal.signal(number, self._interrupt)
        if self._retries:
            signal.signal(signal.SIGALRM, self._interrupt)
            sys.unraisablehook = self._not_raised

    def settle(self) -> None:
        """The program is at its end: no further one is of use."""
        if self._retries:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            signal.signal(signal.SIGALRM, signal.SIG_IGN)
        for number in _numbers():
            if signal.getsignal(number) is not signal.SIG_DFL:
                signal.signal(number, signal.SIG_IGN)

    def work_goes_on(self) -> bool:
        """Whether another thread is still at work, which the program's end would wait for."""
        return any(not each.daemon for each in threading.enumerate() if each is not threading.main_thread())

    def _interrupt(self, _number: int, frame: FrameType | None) -> None:
        now_s = time.monotonic()
        if self._raised_s is not None and now_s - self._raised_s < _BURST_S:
            return
        if not self.asked:
            self.asked, self._asked_s = True, now_s
        if self._retries and now_s - self._asked_s < _IMPORT_PATIENCE_S and _imports(frame):
            signal.setitimer(signal.ITIMER_REAL, _RETRY_S)
            return
        self._raised_s = now_s
        raise KeyboardInterrupt

    def _not_raised(self, what: sys.UnraisableHookArgs) -> None:
        if issubclass(what.exc_type, KeyboardInterrupt):
            self._raised_s = None
            signal.setitimer(signal.ITIMER_REAL, _RETRY_S)
        elif not self.asked:
            sys.__unraisablehook__(what)


@contextmanager
def usual_interrupts() -> Iterator[None]:
    """Ctrl-C as Python has it, and SIGTERM the same, for asyncio: it takes them for itself only then."""
    before: dict[int, Any] = {}
    if threading.current_thread() is threading.main_thread():
        for number, handler in ((signal.SIGINT, signal.default_int_handler), (signal.SIGTERM, _as_interrupt)):
            if isinstance(getattr(signal.getsignal(number), "__self__", None), Interruptions):
                before[number] = signal.signal(number, handler)
    try:
        yield
    finally:
        for each, earlier in before.items():
            signal.signal(each, earlier)


def _as_interrupt(_number: int, _frame: FrameType | None) -> None:
    signal.raise_signal(signal.SIGINT)


def _numbers() -> list[signal.Signals]:
    return [getattr(signal, name) for name in _NAMES if hasattr(signal, name)]


def _imports(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False
