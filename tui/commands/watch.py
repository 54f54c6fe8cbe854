"""``spinvolt watch``: follows a run in progress, from any terminal."""

from __future__ import annotations

import argparse
from pathlib import Path

from tui.commands.options import add_look_options

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "watch"
HELP = "follow a run in progress, from any terminal"
DESCRIPTION = "Follows a recording that is being written; leaving it does not touch the run."


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("file", type=Path, metavar="FILE", help="the recording")
    add_look_options(parser)


def execute(arguments: argparse.Namespace) -> int:
    """Follow the recording until it is closed or the person leaves."""
    from tui.escapes import shown_path
    from tui.followed import followed_file
    from tui.following import show_run
    from tui.latesource import LateSource
    from tui.recordrun import print_end
    from tui.resulttext import left_words
    from tui.terminal import has_terminal
    from tui.watchcontrol import WatchControl

    if arguments.serve is not None:
        from tui.serve.show import serve_file

        return serve_file("watch", arguments.file, arguments.serve, plain=arguments.plain)
    with LateSource(arguments.file) as source:
        headless = arguments.headless or not has_terminal()
        control = WatchControl(source)
        snapshot = show_run(followed_file(source), control, headless=headless, plain=arguments.plain)
        trouble = control.trouble()
        path = control.path
    if snapshot is not None and snapshot.finished:
        print_end(snapshot, path, source.left)
    elif trouble:
        from daq.recording.reader import read_recording

        read_recording(path)  # empty, or no recording at all: its sentence, and status 1
        print(f"{trouble} `spinvolt result {shown_path(path)}` tells what there is.")
    else:
        print(f"The run goes on; its recording is {shown_path(path)}{left_words(source.left)}.")
    return 0
