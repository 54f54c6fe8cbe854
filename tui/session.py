"""A run that was started from within the dashboard: its capture, what follows it, and its end."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from daq.errors import SpinvoltError
from tui.capturecontrol import CaptureControl
from tui.closing import StillClosing, close_capture

if TYPE_CHECKING:
    from daq.capture.spec import CaptureSpec

__all__ = ["LiveSession", "RunEnd"]


@dataclass(frozen=True)
class RunEnd:
    """What became of a run, told to whoever started it."""

    path: Path
    closed: bool
    """The recording was closed properly."""
    trouble: str = ""
    """A sentence where something went wrong."""
    closing: bool = False
    """The disk has not taken the rest of it yet; the capture closes it by itself when that does."""
    left: tuple[str, ...] = ()
    """Names of the files that the run has left because something else changed them."""


class LiveSession:
    """A capture with its feed and the way back to it.

    Attributes:
        control: the way from the screen to the capture.
        feed: snapshots of the run; whoever shows them starts and stops it.
    """

    def __init__(self, spec: CaptureSpec) -> None:
        """Start the capture and wait until its recording is open; takes a moment: not on the screen's loop.

        Raises:
            SpinvoltError: it could not start; the text is its sentence.
        """
        from daq.capture.launch import CaptureProcess
        from tui.dashboard.feed import ThreadFeed
        from tui.followed import followed_file
        from tui.ownsource import OwnSource

        self._capture = CaptureProcess.start(spec)
        try:
            self._source = OwnSource(self._capture)
        except BaseException:
            self._capture.close()
            raise
        keyed = any(instrument.address == "keyboard" for instrument in spec.instruments)
        self.control = CaptureControl(self._capture, self._source, keyed=keyed)
        self.feed = ThreadFeed(followed_file(self._source, just_started=True), self._source.path)
        self._end: RunEnd | None = None

    def close(self) -> RunEnd:
        """Close the recording, wait for the capture, and tell how it went; may be called twice."""
        if self._end is None:
            self.control.stop()
            self._end = self._wait()
            self.feed.stop()
            self._source.close()
        return self._end

    def _wait(self) -> RunEnd:
        closing = False
        trouble = ""
        try:
            close_capture(self._capture, lambda: self.control.path)
        except StillClosing as error:
            closing, trouble = True, str(error)
        except SpinvoltError as error:
            trouble = f"{error}{self._source.put_back()}"
        return RunEnd(self.control.path, not trouble, trouble, closing, self._capture.left)
