"""Replay and comparison as text, at both sizes: what changes on them is seen in a diff.

What they show is made by hand, so that these files change with the screens and not with the arithmetic behind
them. The real replay, by a manual clock, is tested beside its controls.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from daq.run.rows import AlignedRows
from daq.run.snapshot import Snapshot
from daq.verdict.change import compare_results
from daq.verdict.result import Result
from tests.tui.builders import CLOSED, StillFeed, result, rows, snapshot
from tests.tui.screen_text import SIZES, check_snapshot, screen_text, shown_screen
from tui.dashboard.compare_screen import CompareScreen
from tui.dashboard.replay_screen import ReplayScreen
from tui.replaying import ReplayState
from tui.view.compare import CompareView, Side, compare_view
from tui.view.scrub import SpeedMap

_TIMES = np.arange(0.0, 45.0, 0.5)
INSIDE = SpeedMap(45.0, _TIMES, (_TIMES > 20) & (_TIMES < 36), has_window=True)
STANDING = ReplayState(31.0, 45.0, paused=True, rate=1.0, speed=INSIDE)
NOTHING = result(verdict="not_enough_data", rated_voltage_V=None, expanded_uncertainty_V=None, reasons=[])


class StillReplay(StillFeed):
    """A replay that stands where a test puts it."""

    def __init__(self, first: Snapshot, state: ReplayState) -> None:
        super().__init__(first)
        self._state = state

    def state(self) -> ReplayState:
        return self._state


REPLAYS = {
    "opening": (
        snapshot(0.5, rows=AlignedRows.empty(), result=Result(rated_speed_rpm=3600, minimum_V=20.0)),
        replace(STANDING, position_s=0.5, length_s=None, speed=None),
    ),
    "paused": (snapshot(31.0), STANDING),
    "playing": (snapshot(31.0), replace(STANDING, paused=False, rate=4.0)),
    "ended": (snapshot(finished=True, close=CLOSED), replace(STANDING, position_s=45.0)),
    "cut-off": (snapshot(22.0, finished=True), replace(STANDING, position_s=22.0, length_s=22.0)),
}


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("name", REPLAYS)
async def test_a_replay(name: str, size: tuple[int, int]) -> None:
    feed = StillReplay(*REPLAYS[name])
    screen = ReplayScreen(feed, Path("spinvolt-20261125-103000.jsonl"))  # type: ignore[arg-type]  # what the screen asks of a feed, and no more
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        await pilot.pause()
        check_snapshot(app, f"replay-{name}")


def compared(before: Result, after: Result, *, seen: bool = True) -> CompareView:
    """Two runs beside each other; those with a result have rows about it."""
    drawn = [
        rows(
            lambda time_s: 2700 + 900 * np.sin(time_s / 7),
            until_s=45,
            volts_per_1000rpm=(each.rated_voltage_V or 0.0) / 3.6,
        )
        for each in (before, after)
    ]
    first = drawn[0] if seen else AlignedRows.empty()
    return compare_view(
        compare_results(before, after),
        Side("before.jsonl", "Sprayer cart", first),
        Side("after.jsonl", "Sprayer cart", drawn[1]),
    )


WEAK = result(verdict="fail", rated_voltage_V=17.31, conformance_probability=0.0001)
COMPARISONS = {
    "more": compared(WEAK, result()),
    "less": compared(result(), WEAK),
    "same": compared(result(), result(rated_voltage_V=24.7)),
    "none": compared(NOTHING, result(), seen=False),
}


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("name", COMPARISONS)
async def test_a_comparison(name: str, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tui.comparing.compare_recordings", lambda *_: COMPARISONS[name])
    screen = CompareScreen(Path("before.jsonl"), Path("after.jsonl"))
    async with shown_screen(screen, size) as (app, pilot):
        while screen.view is None:
            await pilot.pause(0.01)
        await pilot.pause()
        assert "Working out" not in screen_text(app)
        check_snapshot(app, f"compare-{name}")
        await pilot.press("t")
        await pilot.pause()
        if size == SIZES[0]:
            check_snapshot(app, f"compare-{name}-volts")
