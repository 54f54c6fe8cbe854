"""The pictures of the screens around a run: the recordings, a replay, two runs compared."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import chdir, contextmanager
from dataclasses import dataclass
from pathlib import Path

from daq.model.clock import ManualClock
from tui.dashboard.base_screen import BaseScreen
from tui.dashboard.compare_screen import CompareScreen
from tui.dashboard.replay_screen import ReplayScreen
from tui.dashboard.shelf_screen import ShelfScreen
from tui.pictures.still import SummariesAtOnce
from tui.replaying import ReplayFeed

__all__ = ["SCREENS", "ScreenPicture", "sample_folder"]

_SAMPLES = ("healthy-sweep.jsonl", "gap-and-false-tach.jsonl", "weak-magnets-hunting.jsonl")
_CUT_OFF = "cut-off.jsonl"
_NEWEST_S = 1_773_500_000
_REPLAY_AT_S = 31.0
_FOLDER = Path("recordings")


@dataclass(frozen=True)
class ScreenPicture:
    """One picture of a screen."""

    name: str
    title: str
    columns: int
    rows: int
    make: Callable[[], BaseScreen]
    until: str
    """It is taken once this text is on the screen."""
    keys: tuple[str, ...] = ()
    """Pressed then."""
    plain: bool = False
    light: bool = False


@contextmanager
def sample_folder(samples: Path) -> Iterator[None]:
    """A folder "recordings" with the sample runs and one that was cut off, in the folder that is the present one."""
    with tempfile.TemporaryDirectory() as place, chdir(place):
        _FOLDER.mkdir()
        for name in _SAMPLES:
            shutil.copy(samples / name, _FOLDER / name)
        data = (samples / _SAMPLES[0]).read_bytes()
        (_FOLDER / _CUT_OFF).write_bytes(data[: len(data) // 2])
        for age, name in enumerate((*_SAMPLES, _CUT_OFF)):
            os.utime(_FOLDER / name, (_NEWEST_S - age, _NEWEST_S - age))
        with _utc():
            yield


@contextmanager
def _utc() -> Iterator[None]:
    """Times are told in UTC, so that a picture is the same wherever it is made."""
    before = os.environ.get("TZ")
    os.environ["TZ"] = "UTC"
    if hasattr(time, "tzset"):
        time.tzset()
    try:
        yield
    finally:
        if before is None:
            del os.environ["TZ"]
        else:
            os.environ["TZ"] = before
        if hasattr(time, "tzset"):
            time.tzset()


def _shelf() -> BaseScreen:
    return ShelfScreen(_FOLDER, SummariesAtOnce())


def _replay() -> BaseScreen:
    feed = ReplayFeed(_FOLDER / _SAMPLES[0], ManualClock())
    feed.toggle()
    feed.seek(_REPLAY_AT_S)
    return ReplayScreen(feed, _FOLDER / _SAMPLES[0])


def _compare() -> BaseScreen:
    return CompareScreen(_FOLDER / _SAMPLES[2], _FOLDER / _SAMPLES[0])


SCREENS = (
    ScreenPicture(
        "recordings",
        "The recordings: when, which machine, how long, what came out, and whether each is whole",
        120,
        36,
        _shelf,
        "16.52 V",
        keys=("down", "down"),
    ),
    ScreenPicture(
        "replay",
        "A recording played back: pause, step, seek, rate, and where the speed was in the window",
        120,
        40,
        _replay,
        "0:31  paused",
    ),
    ScreenPicture(
        "compare",
        "Before and after a repair, over each other, with the change and its uncertainty",
        120,
        40,
        _compare,
        "a significant rise",
        light=True,
    ),
    ScreenPicture(
        "replay-plain",
        "The same run on a terminal that has ASCII only",
        80,
        24,
        _replay,
        "0:31  paused",
        plain=True,
    ),
)
