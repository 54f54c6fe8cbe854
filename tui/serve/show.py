"""What the terminal does while the dashboard is in browsers: it shows the link and waits for Ctrl-C."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tui.headless import asked_to_stop, follow_headless
from tui.serve.address import ServeAddress
from tui.serve.link import picture
from tui.serve.serving import Serving
from tui.serve.session import session_command

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot
    from tui.control import Control
    from tui.dashboard.feed import Updatable

__all__ = ["serve_file", "serve_run"]

_LAST_PICTURE_S = 1.5
_PAUSE_S = 0.1
_WHITE_ON_BLACK, _AS_BEFORE = "\x1b[97;40m", "\x1b[0m"
"""A camera reads dark on light only, whatever the terminal's colours are."""


def serve_run(run: Updatable, control: Control, address: ServeAddress, *, plain: bool) -> Snapshot | None:
    """Serve a run that this program records; its browsers only look on.

    Ctrl-C, or SIGTERM, asks for the end of the run. A run that ended by itself
    stays on the screens until then.

    Returns:
        The last snapshot.

    Raises:
        SpinvoltError: the address can't be served, or the recording can't be followed.
    """
    command = _command(["watch", str(control.path.absolute())], plain=plain)
    with asked_to_stop() as stopped, Serving(address, command, _say) as serving:
        _tell(serving, address, "Ctrl-C ends the run and closes its recording.")
        snapshot = follow_headless(run, control, _say, lines=False, asked=stopped)
        if snapshot is not None and snapshot.finished and not stopped():
            _say("The run is closed; the browsers go on showing it. Ctrl-C ends.")
            _wait(stopped)
        elif serving.screens:
            time.sleep(_LAST_PICTURE_S)  # the screens work the whole run out, as this program did
    return snapshot


def serve_file(
    action: str, file: Path, address: ServeAddress, options: Sequence[str] = (), *, plain: bool
) -> int:
    """Serve ``watch`` or ``replay`` of a recording, each browser for itself, until Ctrl-C or SIGTERM.

    Returns:
        The exit status.

    Raises:
        SpinvoltError: the file is no recording that can be opened, or the address can't be served.
    """
    from daq.recording.follow import FileFollower

    with FileFollower(file):
        pass
    command = _command([action, str(file.absolute()), *options], plain=plain)
    with asked_to_stop() as stopped, Serving(address, command, _say) as serving:
        _tell(serving, address, "Ctrl-C ends.")
        _wait(stopped)
    return 0


def _command(arguments: Sequence[str], *, plain: bool) -> list[str]:
    return session_command(*arguments, *(["--plain"] if plain else []))


def _tell(serving: Serving, address: ServeAddress, ending: str) -> None:
    """The link, and for a phone's camera its picture."""
    _say(f"The dashboard is at {serving.link}")
    if not address.is_loopback:
        if sys.stdout.isatty():
            for row in picture(serving.link):
                _say(f"{_WHITE_ON_BLACK}{row}{_AS_BEFORE}")
        _say("The link lets one device in. The line is not encrypted: use it on a network that you trust.")
    _say(ending)


def _wait(stopped: Callable[[], bool]) -> None:
    while not stopped():
        time.sleep(_PAUSE_S)


def _say(sentence: str) -> None:
    print(sentence, flush=True)
