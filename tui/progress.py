"""A progress bar for work that lasts: on standard error, after a second, and only on a terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from tui.text import clean

__all__ = ["ProgressBar", "progress"]

PATIENCE_S = 1.0
_REDRAW_S = 0.1
_COLUMNS = 30


class ProgressBar:
    """Draws how much is done, from a second after the first call on.

    Args:
        what: what is being done, such as "reading run.jsonl".
        stream: where to draw; nothing is drawn where it is no terminal, or none any more; None: it is closed.
        now_s: the clock.
    """

    def __init__(self, what: str, stream: TextIO | None, now_s: Callable[[], float]) -> None:
        self._what = clean(what)  # it may hold the name of a stranger's file
        self._stream = stream
        self._now_s = now_s
        self._began_s: float | None = None
        self._drawn_s: float | None = None
        self._shown = stream is not None and stream.isatty()

    def __call__(self, part: float) -> None:
        """Tell that this part is done, from 0 to 1."""
        now_s = self._now_s()
        if self._began_s is None:
            self._began_s = now_s
        if not self._shown or now_s - self._began_s < PATIENCE_S:
            return
        if self._drawn_s is not None and now_s - self._drawn_s < _REDRAW_S:
            return
        self._drawn_s = now_s
        part = min(max(part, 0.0), 1.0)
        done = round(part * _COLUMNS)
        bar = "#" * done + "." * (_COLUMNS - done)
        self._draw(f"\r{self._what} [{bar}] {100 * part:3.0f} % ")

    def stage(self, what: str, begin: float, end: float) -> Callable[[float], None]:
        """What a part of the work tells of itself, from 0 to 1: shown as this part of the whole, in its own words.

        Args:
            what: what is being done in it, such as "working out".
            begin: where the part begins within the whole, from 0 to 1.
            end: where it ends.
        """
        words = clean(what)

        def tell(part: float) -> None:
            if words != self._what:
                self.clear()
                self._what, self._drawn_s = words, None
            self(begin + (end - begin) * min(max(part, 0.0), 1.0))

        return tell

    def clear(self) -> None:
        """Wipe the bar off."""
        if self._drawn_s is not None:
            self._draw("\r\x1b[K")

    def _draw(self, text: str) -> None:
        try:
            if self._stream is not None:
                self._stream.write(text)
                self._stream.flush()
        except OSError:  # the terminal has gone; the work is not for its bar
            self._shown = False


@contextmanager
def progress(what: str) -> Iterator[ProgressBar]:
    """A bar on standard error while the block runs."""
    bar = ProgressBar(what, sys.stderr, time.monotonic)
    try:
        yield bar
    finally:
        bar.clear()
