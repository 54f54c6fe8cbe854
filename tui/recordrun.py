"""A run from its first reading to the words at its end: starts the capture, shows it, closes it, tells the result."""

from __future__ import annotations

import contextlib
import signal
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from daq.errors import SpinvoltError
from tui.capturecontrol import CaptureControl
from tui.closing import StillClosing, close_capture, stopped_words
from tui.following import show_run
from tui.places import new_recording_path
from tui.resulttext import recording_line, result_lines
from tui.typedlines import pass_typed_lines
from tui.wrapped import say, say_one

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daq.capture.launch import CaptureProcess
    from daq.capture.spec import CaptureSpec
    from daq.run.snapshot import Snapshot
    from tui.followed import Followed
    from tui.ownsource import OwnSource
    from tui.serve.address import ServeAddress

__all__ = ["print_end", "record_run", "recording_path"]


def recording_path(out: Path | None) -> Path:
    """Where a new recording goes: where the person said, or into the recordings folder."""
    return new_recording_path(datetime.now()) if out is None else out


def record_run(spec: CaptureSpec, *, headless: bool, plain: bool, serve: ServeAddress | None = None) -> int:
    """Record a run and show it; gives the exit status.

    Raises:
        SpinvoltError: it could not start, it failed, or it was interrupted; what came until then is kept.
    """
    from daq.capture.launch import CaptureProcess
    from tui.ownsource import OwnSource

    capture: CaptureProcess | None = None
    source: OwnSource | None = None
    try:
        with CaptureProcess.start(spec) as capture, OwnSource(capture) as source:
            keyed = any(instrument.address == "keyboard" for instrument in spec.instruments)
            control = CaptureControl(capture, source, keyed=keyed)
            if keyed and headless:
                pass_typed_lines(control.typed)
            _follow(capture, source, control, headless=headless, plain=plain, serve=serve)
    except KeyboardInterrupt as error:
        # Also one more that comes while the capture is being closed: it closes the recording by itself then.
        with contextlib.suppress(ValueError):  # not in the main thread, where none comes
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # the word of where it lies is said in any case
        if capture is None:
            raise
        path = Path(capture.path) if source is None else source.path
        if not path.exists():
            raise
        raise SpinvoltError(stopped_words(capture, path, told=True)) from error
    return 0


def _follow(
    capture: CaptureProcess,
    source: OwnSource,
    control: CaptureControl,
    *,
    headless: bool,
    plain: bool,
    serve: ServeAddress | None,
) -> None:
    from tui.followed import followed_file
    from tui.lostoutput import OutputLost, end_run

    run = followed_file(source, just_started=True)
    try:
        shown = show_run(run, control, headless=headless, plain=plain, serve=serve)
    except OutputLost as lost:
        end_run(lost.error, source.path, _failure_of(capture, source))
    except SpinvoltError:
        _close(capture, source)  # where the capture failed too, its sentence is the one that tells why
        raise
    _close(capture, source, tell=not headless and serve is None)
    whole = _to_the_end(run, shown)
    try:
        print_end(whole, source.path, capture.left)
        sys.stdout.flush()
    except OSError as error:
        end_run(error, source.path)


def _failure_of(capture: CaptureProcess, source: OwnSource) -> str:
    """The sentence of a capture that did not close its recording in good order, or ""."""
    try:
        _close(capture, source)
    except SpinvoltError as error:
        return str(error)
    return ""


def _close(capture: CaptureProcess, source: OwnSource, *, tell: bool = False) -> None:
    """End the capture and wait for it; ``tell``: say where it takes long, which nobody has said yet.

    Raises:
        SpinvoltError: it failed, or its disk does not take the rest; the text is the sentence.
    """
    try:
        close_capture(capture, lambda: source.path, say_one if tell else lambda _: None)
    except StillClosing:
        raise
    except SpinvoltError as error:
        sentence = _with_place(str(error), source.path)  # a removed one has no place yet
        raise SpinvoltError(f"{sentence}{source.put_back()}") from error


def print_end(snapshot: Snapshot, path: Path, left: Sequence[str] = ()) -> None:
    """Tell the result of a finished run and where its recording lies.

    Args:
        snapshot: the run's last.
        path: its recording.
        left: names of the files that it has left because something else changed them.
    """
    say([*result_lines(snapshot.result), recording_line(path, left)])


def _to_the_end(run: Followed, shown: Snapshot | None) -> Snapshot:
    """The whole run's snapshot; the recording is closed, so the end is near."""
    from tui.progress import progress

    if shown is not None and shown.finished:
        return shown
    with progress("working out the whole run") as bar:
        run.on_progress = bar
        while not (snapshot := run.update()).finished:
            pass
    return snapshot


def _with_place(sentence: str, path: Path) -> str:
    return f"{sentence} What came until then is in {path}." if path.exists() else sentence
