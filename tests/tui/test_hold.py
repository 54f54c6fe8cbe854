"""How long rated speed is held: a governor that hunts holds, and one that leaves the window does not."""

from __future__ import annotations

import runpy
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from daq.align.marks import Mark
from daq.model.clock import ManualClock
from daq.recording.follow import Replay
from daq.run.rows import AlignedRows
from daq.run.snapshot import Snapshot
from drivers.bench.model import BenchSetup
from tests.tui.builders import result, snapshot
from tests.tui.test_doing import steady, swinging
from tui.followed import followed_replay
from tui.view.build import build_view
from tui.view.hold import held_s, unsettled
from tui.view.state import ViewState

SAMPLES = Path(__file__).parents[2] / "recordings" / "make_samples.py"
SpeedOf = Callable[[np.ndarray], np.ndarray]
OPEN = result(verdict="too_close")


def hunting(swing_rpm: float, period_s: float) -> SpeedOf:
    def speed_of(time_s: np.ndarray) -> np.ndarray:
        speed: np.ndarray = 3600.0 + swing_rpm * np.sin(2 * np.pi * time_s / period_s)
        return speed

    return speed_of


def chosen(rows: AlignedRows, keep: np.ndarray) -> AlignedRows:
    return type(rows)(*(getattr(rows, name)[keep] for name in rows.__dataclass_fields__))


def provisional(run: Snapshot, count: int) -> Snapshot:
    """The newest rows wait for the tach: as they are at most moments of a run."""
    mark, speed_rpm = run.rows.mark.copy(), run.rows.speed_rpm.copy()
    in_window, are_steady = run.rows.in_window.copy(), run.rows.steady.copy()
    if count:
        mark[-count:], speed_rpm[-count:] = Mark.NO_SPEED, np.nan
        in_window[-count:] = are_steady[-count:] = False
    rows = replace(run.rows, mark=mark, speed_rpm=speed_rpm, in_window=in_window, steady=are_steady)
    return replace(run, rows=rows)


def walk(speed_of: SpeedOf, until_s: float, **changes: object) -> list[ViewState]:
    """The views of a run, four a second, with one to five rows that are not known yet."""
    views: list[ViewState] = []
    for step in range(4, int(until_s * 4) + 1):
        now = provisional(snapshot(step / 4, speed_of, **changes), step % 5 + 1)
        views.append(build_view(now, views[-1] if views else None, plots_too=False))
    return views


@pytest.mark.parametrize(("swing_rpm", "period_s"), [(25, 5.0), (40, 1.5), (50, 2.5), (50, 0.7), (54, 8.0)])
def test_a_hunting_engine_holds_and_is_captured_once(swing_rpm: float, period_s: float) -> None:
    views = walk(hunting(swing_rpm, period_s), 40.0)
    captured = {view.captured for view in views} - {None}
    assert len(captured) == 1
    assert next(index / 4 + 1 for index, view in enumerate(views) if view.captured) < 12
    kinds = [view.now.split(":")[0] if view.now.startswith("Known") else "Held" for view in views]
    assert kinds == sorted(kinds, reverse=True), "counts down, then is held to the end"
    assert views[-1].now.endswith("The run can be closed.")


def test_the_countdown_never_goes_back_while_nothing_is_known() -> None:
    views = walk(hunting(40, 1.5), 9.0, result=OPEN)
    left = [int(view.now.split()[-3]) for view in views]
    assert all(view.now.startswith("Hold 3600 rpm for ") for view in views)
    assert left == sorted(left, reverse=True)
    assert left[-1] <= 3


def bench_hold(path: Path, seed: int) -> Path:
    """The demo's hold, worked out on the bench."""
    path.write_text("")
    made: Path = runpy.run_path(str(SAMPLES))["_make_one"](path, BenchSetup(script="hold", seed=seed), 28.0)
    return made


@pytest.mark.parametrize("seed", [1, 3])
def test_the_demo_of_a_hold_rings_once_and_says_each_thing_once(tmp_path: Path, seed: int) -> None:
    clock, view = ManualClock(), None
    captured, said = set(), [""]
    with Replay(bench_hold(tmp_path / "hold.jsonl", seed), clock, 1.0) as source:
        run = followed_replay(source)
        while not (now := run.update()).finished and now.t_s < 27.0:
            view = build_view(now, view, plots_too=False)
            captured.add(view.captured)
            kind = next((kind for kind in ("let the speed settle", "s more", "Held") if kind in view.now), "")
            said += [kind] if kind != said[-1] else []
            clock.advance(0.25)
    assert len(captured - {None}) == 1
    assert said == ["", "let the speed settle", "s more", "Held"]


def test_a_wide_swing_is_no_hold() -> None:
    run = snapshot(20.0, swinging)
    assert held_s(run.rows, 20.0) == 0.0
    assert unsettled(run.rows)


def test_a_swing_that_grows_ends_a_hold_and_a_smaller_one_than_began_it_does_not() -> None:
    def growing(time_s: np.ndarray) -> np.ndarray:
        return 3600.0 + np.where(time_s < 15, 40, np.where(time_s < 25, 65, 85)) * np.sin(2 * np.pi * time_s)

    assert held_s(snapshot(24.0, growing).rows, 24.0) == pytest.approx(23.8, abs=0.2)
    assert held_s(snapshot(28.0, growing).rows, 28.0) == 0.0
    assert held_s(snapshot(20.0, hunting(65, 1.0)).rows, 20.0) < 1.0, "too wide for a hold to begin"


def test_a_throttle_that_moves_through_the_window_is_no_hold() -> None:
    run = snapshot(20.0, lambda time_s: 3690.0 - 90.0 * (20.0 - time_s))
    assert held_s(run.rows, 20.0) == 0.0


@pytest.mark.parametrize(("away_s", "holds"), [(0.6, True), (1.5, False)])
def test_a_moment_outside_the_window_does_not_end_a_hold(away_s: float, holds: bool) -> None:
    def overswing(time_s: np.ndarray) -> np.ndarray:
        return np.where((time_s > 12) & (time_s < 12 + away_s), 3710.0, 3660.0)

    held = held_s(snapshot(20.0, overswing).rows, 20.0)
    assert held == pytest.approx(19.7 if holds else 20 - 12 - away_s - 0.2, abs=0.25)


def test_one_false_row_does_not_end_a_hold_and_many_do() -> None:
    run = snapshot(20.0, steady)
    marks = run.rows.mark.copy()
    marks[100] = Mark.FALSE_SPEED
    assert held_s(replace(run.rows, mark=marks), 20.0) == pytest.approx(19.7, abs=0.01)
    marks[80:103] = Mark.FALSE_SPEED
    assert held_s(replace(run.rows, mark=marks), 20.0) == pytest.approx(9.4, abs=0.01)


def test_a_hold_ends_with_the_readings() -> None:
    run = snapshot(20.0, steady)
    assert held_s(run.rows, 24.0) > 19.0
    assert held_s(run.rows, 25.0) == 0.0
    assert held_s(provisional(run, 60).rows, 20.0) == 0.0, "nothing known of the speed for six seconds"
    assert held_s(AlignedRows.empty(), 1.0) == 0.0


def test_a_gap_ends_a_hold() -> None:
    run = snapshot(20.0, steady)
    keep = (run.rows.time_s < 10) | (run.rows.time_s > 13)
    assert held_s(chosen(run.rows, keep), 20.0) == pytest.approx(6.9, abs=0.2)
