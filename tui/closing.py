"""The end of a capture that this program started: asked for, waited for, and never forced while it holds readings."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from daq.capture.held import LONG_S
from daq.errors import SpinvoltError
from tui.control import BY_HAND
from tui.escapes import shown_path
from tui.resulttext import left_words
from tui.text import clean

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from daq.capture.launch import CaptureProcess

__all__ = ["StillClosing", "close_capture", "stopped_words", "waiting_words"]

_END_WITHIN_S = 15.0
_FORCED_AFTER_S = 1.0
_WORTH_TELLING_S = 1.0
"""A disk that is well takes the rest sooner."""


class StillClosing(SpinvoltError):
    """The disk has not taken the rest of a recording: its capture was left to close it by itself."""


def close_capture(
    capture: CaptureProcess, path: Callable[[], Path], tell: Callable[[str], None] = lambda _: None
) -> None:
    """Ask a capture to close its recording, and wait for it.

    Args:
        capture: the process.
        path: gives the recording, under the name that it has now.
        tell: told, once, that the disk makes one wait.

    Raises:
        StillClosing: the disk did not take the rest meanwhile; the capture goes on by itself.
        SpinvoltError: it failed; the text is its sentence.
    """
    capture.stop(BY_HAND)
    try:
        capture.wait(LONG_S)
    except TimeoutError:
        if capture.holds:
            with contextlib.suppress(OSError):  # nobody reads it any more: the run is closed all the same
                tell(waiting_words(path()))
        _wait_longer(capture, path)


def _wait_longer(capture: CaptureProcess, path: Callable[[], Path]) -> None:
    try:
        capture.wait(_END_WITHIN_S)
    except TimeoutError as error:
        if capture.holds:
            capture.leave()
            raise StillClosing(_still_closing_words(capture, path())) from error
        capture.close(_FORCED_AFTER_S)
        raise SpinvoltError(
            "The part of the program that records did not answer any more and was ended."
        ) from error


def waiting_words(path: Path) -> str:
    """What is said to somebody who waits for the end of a run."""
    return (
        f"The disk has not taken the rest of {clean(path.name)} for more than {LONG_S:g} s; waiting for it. "
        "Ctrl-C leaves, and the recording is then closed without you as soon as the disk takes it."
    )


def _still_closing_words(capture: CaptureProcess, path: Path) -> str:
    """What is said where nobody waits any more: what is going on, what to do, and where it all will lie."""
    held_s = max(1.0, capture.held_s)
    return (
        f"{clean(path.name)} is not closed yet: the disk has not taken the rest of it for {held_s:.0f} s. The "
        "part of the program that records goes on by itself, holds the rest in memory and closes the recording as soon "
        "as the disk takes it: leave the computer on and the disk where it is. What the disk refuses for good is put "
        f"into {clean(path.stem)}-rest.jsonl in your home folder. The recording is {shown_path(path)}."
    )


def stopped_words(capture: CaptureProcess, path: Path, *, told: bool = False) -> str:
    """What is said where somebody would not wait for the end.

    Args:
        capture: the process.
        path: the recording, under the name that it has now.
        told: also say where it is, where the disk has taken it all.
    """
    if capture.holds and capture.held_s >= _WORTH_TELLING_S:
        return f"Stopped before it was done. {_still_closing_words(capture, path)}"
    if not told:
        return "Stopped before it was done."
    closes = ", and is being closed" if capture.running else ""
    return f"Stopped before it was done; the recording is in {shown_path(path)}{left_words(capture.left)}{closes}."
