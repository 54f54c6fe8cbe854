"""``spinvolt recordings``: what is in the folder, as a screen or as lines; ``spinvolt`` alone opens it too."""

from __future__ import annotations

import argparse
from pathlib import Path

from tui.filename import folder_path

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute", "open_screen"]

NAME = "recordings"
HELP = "what is in the recordings folder: open, play, compare, export"
DESCRIPTION = (
    "Shows the recordings in a folder with their results. Without a terminal, or with --headless, a line for each. "
    "`spinvolt` alone in a terminal opens the same screen."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument(
        "folder", nargs="?", type=folder_path, metavar="FOLDER", help="another folder than the usual one"
    )
    parser.add_argument("--headless", action="store_true", help="no screen: a line for each recording")
    parser.add_argument("--plain", action="store_true", help="draw the screen with ASCII characters only")


def execute(arguments: argparse.Namespace) -> int:
    """Show the folder."""
    from tui.places import recordings_folder
    from tui.terminal import has_terminal

    folder: Path = arguments.folder or recordings_folder()
    if arguments.headless or not has_terminal():
        return _list(folder)
    return open_screen(folder, plain=arguments.plain)


def open_screen(folder: Path, *, plain: bool) -> int:
    """Open the recordings screen of that folder."""
    from tui.dashboard.shelf_screen import ShelfScreen
    from tui.following import show_screen
    from tui.shelf.worker import SummaryProcess

    show_screen(ShelfScreen(folder, SummaryProcess()), plain=plain)
    return 0


def _list(folder: Path) -> int:
    from daq.errors import RecordingError
    from tui.progress import progress
    from tui.shelf.cache import ResultCache, cache_folder
    from tui.shelf.folder import list_folder
    from tui.view.shelf import listing_line
    from tui.wrapped import say_one

    try:
        found = list_folder(folder)
    except OSError as error:
        raise RecordingError(f"{folder} can't be read: {error.strerror}.") from error
    if not found:
        print(f"No recordings are in {folder} yet.")
    cache = ResultCache(cache_folder())
    for one in found:
        with progress(f"reading {one.path.name}") as bar:
            summary = cache.summary(one.path, bar)
        say_one(listing_line(one, summary))
    return 0
