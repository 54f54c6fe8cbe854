"""``spinvolt replay``: a recording through the same pipeline and the same dashboard."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.options import add_look_options

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "replay"
HELP = "play a recording back"
DESCRIPTION = "Plays a recording back through the same pipeline and the same dashboard as a live run."


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("file", type=Path, metavar="FILE", help="the recording")
    parser.add_argument(
        "--rate",
        type=_rate,
        default=1.0,
        metavar="X",
        help="times as fast; 0: as fast as it goes (default 1)",
    )
    add_look_options(parser)


def execute(arguments: argparse.Namespace) -> int:
    """Play the recording until its end or until the person leaves."""
    from tui.escapes import shown_path

    shown = shown_path(arguments.file)
    from tui.recordrun import print_end
    from tui.terminal import has_terminal

    if arguments.serve is not None:
        from tui.serve.show import serve_file

        options = ["--rate", str(arguments.rate)]
        return serve_file("replay", arguments.file, arguments.serve, options, plain=arguments.plain)
    if arguments.headless or not has_terminal():
        snapshot = _told(arguments.file, arguments.rate)
    else:
        snapshot = _shown(arguments.file, arguments.rate, plain=arguments.plain)
    if snapshot is not None and snapshot.finished:
        print_end(snapshot, arguments.file)
    else:
        print(f"Left before the end; `spinvolt result {shown}` tells the result of the whole run.")
    return 0


def _told(path: Path, rate: float) -> Snapshot | None:
    """Play it line by line."""
    from daq.model.clock import SystemClock
    from daq.recording.follow import Replay
    from tui.control import Watching
    from tui.followed import followed_replay
    from tui.following import show_run

    with Replay(path, SystemClock(), rate) as source:
        return show_run(followed_replay(source), Watching(path), headless=True, plain=True)


def _shown(path: Path, rate: float, *, plain: bool) -> Snapshot | None:
    """Play it on the dashboard, with pause, step, seek and rate."""
    from daq.model.clock import SystemClock
    from tui.dashboard.replay_screen import ReplayScreen
    from tui.following import show_screen
    from tui.replaying import ReplayFeed

    feed = ReplayFeed(path, SystemClock(), rate)
    show_screen(ReplayScreen(feed, path), plain=plain)
    return feed.latest()


def _rate(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 <= value <= 1e6:
        raise argparse.ArgumentTypeError(f"{text!r} is no rate from 0 up")
    return value
