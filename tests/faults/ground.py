"""The ground that commands are run on: every folder that they could come by is in it, and every file of it is known."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import stat
import tempfile
import time
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.stopwatch import stopwatch
from tests.tui.program import environment

__all__ = ["Answer", "Ground", "held_to_time", "places_of", "run_command"]

MOST_SECONDS = 1.0
_PLACES = (
    "HOME",
    "TMPDIR",
    "XDG_CACHE_HOME",
    "XDG_CONFIG_HOME",
    "XDG_DATA_HOME",
    "XDG_RUNTIME_DIR",
)
_FONTS = ("xdg_cache_home/matplotlib", "xdg_config_home/matplotlib")
_OF_NO_FAULT = {"recordings": ("spinvolt_cache/results",), "report": _FONTS, "job": _FONTS}
"""What a command keeps in the user's folders: results that are worked out once, and the plots' list of fonts."""


class Answer(NamedTuple):
    """What a command gave back."""

    status: int
    out: str
    err: str


class Ground:
    """Where a command is run: its folder, two above it, and those that the environment names.

    Args:
        folder: an empty one, in which all of them are made.
    """

    def __init__(self, folder: Path) -> None:
        self.top = folder
        self.here = folder / "outer" / "here"
        self.places = places_of(self.here)
        self.here.mkdir(parents=True)
        _make_places(self.places)

    def known(self) -> dict[str, tuple[int, int, bytes]]:
        """Every file and folder: its kind, when it was written, and what is in it."""
        found = {}
        for folder, folders, files in os.walk(self.top):
            for path in (Path(folder, name) for name in (*folders, *files)):
                about = path.lstat()
                ordinary = stat.S_ISREG(about.st_mode)
                found[path.relative_to(self.top).as_posix()] = (
                    stat.S_IFMT(about.st_mode),
                    about.st_mtime_ns if ordinary else 0,
                    path.read_bytes() if ordinary else b"",
                )
        return found

    def strays(
        self, before: dict[str, tuple[int, int, bytes]], command: Sequence[str], outputs: Sequence[str]
    ) -> list[str]:
        """What is new, changed or gone since, and was not named as the command's output."""
        named = {(self.here / name).relative_to(self.top) for name in outputs}
        kept = [path.relative_to(self.top) for path in self._kept(command)]
        now = self.known()
        changed = sorted(name for name in before.keys() | now.keys() if before.get(name) != now.get(name))
        return [
            name
            for name in changed
            if Path(name) not in named
            and not any(Path(name).is_relative_to(tree) or tree.is_relative_to(name) for tree in kept)
        ]

    def forget(self, command: Sequence[str]) -> None:
        """Take away what a run of the command kept, so that another one begins as the first did."""
        for path in self._kept(command):
            shutil.rmtree(path, ignore_errors=True)

    def clear(self) -> None:
        """Leave the folder empty."""
        shutil.rmtree(self.top / "outer")
        for path in self.top.iterdir():
            path.unlink()

    def entered(self) -> contextlib.AbstractContextManager[None]:
        """Be in the folder, as a command is."""
        return _surroundings(self.here)

    def _kept(self, command: Sequence[str]) -> list[Path]:
        return [self.places / name for name in _OF_NO_FAULT.get(command[0], ())]


def places_of(folder: Path) -> Path:
    """Where the folders are that the environment names, when the commands run in that folder."""
    return folder.parent / f"{folder.name}-places"


def run_command(command: Sequence[str], folder: Path) -> Answer:
    """Run a command in a folder; gives its exit status and what it said. A warning is a fault of its own."""
    from tui.__main__ import main

    out, err = io.StringIO(), io.StringIO()
    with (
        _surroundings(folder),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("error", RuntimeWarning)
        try:
            status = main(command)
        except SystemExit as ending:
            status = int(ending.code or 0)
    return Answer(status, out.getvalue(), err.getvalue())


def _make_places(places: Path) -> None:
    """Those that every computer has."""
    for name in ("home", "tmpdir"):
        (places / name).mkdir(parents=True, exist_ok=True)


@contextlib.contextmanager
def _surroundings(folder: Path) -> Iterator[None]:
    places = places_of(folder)
    _make_places(places)
    named = {name: str(places / name.lower()) for name in _PLACES}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for name, value in {**environment(places), **named}.items():
            if os.environ.get(name) != value:
                patch.setenv(name, value)
        patch.setattr(tempfile, "tempdir", named["TMPDIR"])  # asked for once in a process, and then kept
        yield


@contextlib.contextmanager
def held_to_time(most_s: float = MOST_SECONDS) -> Iterator[list[str]]:
    """Hold what is done to a time, by the clock and on the processor.

    By the clock means as :mod:`tests.stopwatch` has it: without what a busy computer takes.
    """
    broken: list[str] = []
    began_cpu_s = time.process_time()
    with stopwatch() as watch:
        yield broken
    took_cpu_s = time.process_time() - began_cpu_s
    if max(watch.own_s, took_cpu_s) > most_s:
        broken.append(f"takes {watch.own_s:.2f} s, {took_cpu_s:.2f} s of the processor")
