"""The way from the screen back to a capture process."""

from __future__ import annotations

import time
from collections import deque
from typing import TYPE_CHECKING

from daq.capture.held import LONG_S
from tui.closing import waiting_words
from tui.control import BY_HAND, Answer

if TYPE_CHECKING:
    from pathlib import Path

    from daq.capture.launch import CaptureProcess
    from tui.ownsource import OwnSource

__all__ = ["CaptureControl"]

_GRACE_S = 1.0
_MOST_ANSWERS = 50


class CaptureControl:
    """Controls the run that this program started."""

    records = True

    def __init__(self, capture: CaptureProcess, source: OwnSource, *, keyed: bool = False) -> None:
        """Control a capture.

        Args:
            capture: the process.
            source: follows its recording, and so knows its name.
            keyed: it takes typed lines.
        """
        self._source = source
        self.keyed = keyed
        self._capture = capture
        self._asked = False
        self._gone_since_s: float | None = None
        self._warning = ""
        self._answers: deque[Answer] = deque(maxlen=_MOST_ANSWERS)

    @property
    def path(self) -> Path:
        """The recording, under the name that it has now."""
        return self._source.path

    def mark(self, text: str) -> None:
        """Write a mark into the recording."""
        self._capture.mark(text)

    def typed(self, line: str) -> None:
        """Hand a typed line to the keyed-in instrument."""
        self._capture.key(line)

    def stop(self, reason: str = BY_HAND) -> None:
        """Ask for the recording to be closed, for that reason; the first call counts."""
        if not self._asked:
            self._asked = True
            self._capture.stop(reason)

    def trouble(self) -> str:
        """That the capture is gone; :meth:`daq.capture.launch.CaptureProcess.wait` then tells why.

        A moment is left for the closing line to be seen: an end in good order is no trouble.
        """
        if self._capture.running:
            return ""
        now_s = time.monotonic()
        if self._gone_since_s is None:
            self._gone_since_s = now_s
        return "The capture has ended." if now_s - self._gone_since_s > _GRACE_S else ""

    def warning(self) -> str:
        """The newest word of the capture that its disk takes nothing, until it does again.

        Once the end was asked for: that the disk makes one wait, where it does.
        """
        self._listen()
        if self._asked and self._capture.holds and self._capture.held_s >= LONG_S:
            return waiting_words(self.path)
        return self._warning

    def answers(self) -> list[Answer]:
        """What the capture has made of typed lines since the last call; the newest where nobody asks for long."""
        self._listen()
        taken = list(self._answers)
        self._answers.clear()
        return taken

    def _listen(self) -> None:
        from daq.capture.spec import Heard, RecordingMoved, Resumed, Stalled

        for status in self._capture.poll_status():
            if isinstance(status, Stalled):
                self._warning = status.text
            elif isinstance(status, Resumed | RecordingMoved):
                self._warning = ""
            elif isinstance(status, Heard):
                self._answers.append(Answer(status.text, status.understood))
