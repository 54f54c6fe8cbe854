"""A replay with controls: pause, step, seek, rate; and the line that shows where the speed was in the window."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from daq import open_recording
from daq.errors import RecordingError
from daq.model.clock import ManualClock
from daq.run.snapshot import Snapshot
from tests.tui.screen_text import SIZES, screen_rows, shown_screen, wait_until
from tui.dashboard.replay_screen import ReplayScreen
from tui.dashboard.widgets.scrub import Scrub
from tui.replaying import ReplayFeed, ReplayState
from tui.view.scrub import SpeedMap, cell_of, cells, scrub_view, speed_map, time_at

SWEEP = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"


class Playing:
    """A replay by a clock that the test moves."""

    def __init__(self, *, at_end: bool = False) -> None:
        self.clock = ManualClock()
        self.feed = ReplayFeed(SWEEP, self.clock, at_end=at_end)
        self.feed.start()
        self.until(lambda: self.feed.state().length_s is not None)

    def until(self, done: Callable[[], bool]) -> None:
        end_s = time.monotonic() + 30
        while not done():
            assert time.monotonic() < end_s, self.feed.state()
            time.sleep(0.005)

    def until_rate(self, rate: float) -> None:
        self.until(lambda: self.feed.state().rate == rate)

    def shown_at(self, t_s: float) -> Snapshot:
        def there() -> bool:
            snapshot = self.feed.latest()
            return snapshot is not None and abs(snapshot.t_s - t_s) < 1e-6

        self.until(there)
        snapshot = self.feed.latest()
        assert snapshot is not None
        return snapshot


@pytest.fixture
def playing() -> Iterator[Playing]:
    one = Playing()
    yield one
    one.feed.stop()


def test_it_plays_by_its_clock_and_stands_still_when_paused(playing: Playing) -> None:
    playing.clock.advance(12.0)
    assert sum(health.readings for health in playing.shown_at(12.0).health) == pytest.approx(64, abs=4)
    playing.feed.toggle()
    playing.until(lambda: playing.feed.state().paused)
    playing.clock.advance(5.0)
    assert playing.feed.state().position_s == 12.0
    playing.feed.toggle()
    playing.until(lambda: not playing.feed.state().paused)
    playing.clock.advance(3.0)
    playing.shown_at(15.0)


def test_it_goes_to_any_time_and_shows_what_was_seen_then(playing: Playing) -> None:
    playing.feed.toggle()
    playing.feed.seek(30.0)
    then = playing.shown_at(30.0)
    playing.feed.seek(10.0)
    assert playing.shown_at(10.0).rows.time_s.max() < 10.0
    playing.feed.seek_by(20.0)
    again = playing.shown_at(30.0)
    assert again.raw_speed.time_s.tolist() == then.raw_speed.time_s.tolist()
    assert again.voltage == then.voltage
    playing.feed.seek_by(-100.0)
    playing.shown_at(0.0)


def test_the_end_has_the_whole_runs_result_also_when_come_to_again(playing: Playing) -> None:
    whole = open_recording(SWEEP).result()
    for _ in range(2):
        playing.feed.seek(1e6)
        playing.until(lambda: (s := playing.feed.latest()) is not None and s.finished and s.result == whole)
        playing.feed.seek(5.0)
        playing.shown_at(5.0)


def test_it_may_begin_at_the_end_and_then_plays_from_the_beginning() -> None:
    playing = Playing(at_end=True)
    try:
        playing.until(lambda: (s := playing.feed.latest()) is not None and s.finished)
        assert playing.feed.state().position_s == pytest.approx(45.0, abs=0.01)
        playing.feed.toggle()
        playing.shown_at(0.0)
        playing.clock.advance(2.0)
        playing.shown_at(2.0)
    finally:
        playing.feed.stop()


def test_a_step_is_one_volts_reading_on_or_back(playing: Playing) -> None:
    volts = open_recording(SWEEP).data.volts
    assert volts is not None
    times = volts.time_s
    playing.feed.toggle()
    playing.feed.seek(20.0)
    playing.shown_at(20.0)
    after = int(np.searchsorted(times, 20.0))
    for step, index in ((1, after), (1, after + 1), (-1, after), (-1, after - 1)):
        playing.feed.step(step)
        snapshot = playing.shown_at(round(times[index] * 1e9) * 1e-9)
        assert snapshot.voltage is not None
        assert snapshot.voltage.age_s == pytest.approx(0.0, abs=1e-6)


def test_the_rate_goes_up_and_down_within_its_bounds(playing: Playing) -> None:
    for by, rate in ((1, 2.0), (1, 4.0), (-1, 2.0), (-1, 1.0), (-1, 0.5), (-1, 0.25), (-1, 0.25)):
        playing.feed.faster(by)
        playing.until_rate(rate)
    playing.feed.set_rate(8.0)
    playing.until_rate(8.0)
    at_s = playing.feed.state().position_s
    playing.clock.advance(1.0)
    assert playing.feed.state().position_s == pytest.approx(at_s + 8.0)


def test_what_is_no_recording_is_told(tmp_path: Path) -> None:
    with pytest.raises(RecordingError):
        ReplayFeed(tmp_path / "gone.jsonl", ManualClock())
    (tmp_path / "diary.jsonl").write_text("a diary\n")
    feed = ReplayFeed(tmp_path / "diary.jsonl", ManualClock(), at_end=True)
    feed.start()
    try:
        end_s = time.monotonic() + 30
        while feed._error is None and time.monotonic() < end_s:
            time.sleep(0.01)
        with pytest.raises(RecordingError, match="no spinvolt recording"):
            feed.latest()
    finally:
        feed.stop()


MAP = SpeedMap(
    10.0,
    np.array([0.5, 1.5, 2.5, 3.5, 8.5, 9.5]),
    np.array([False, True, True, False, False, True]),
    has_window=True,
)


def test_each_column_of_the_line_says_whether_the_speed_was_in_the_window() -> None:
    assert cells(MAP, 10) == ["out", "in", "in", "out", "out", "out", "out", "none", "out", "in"]
    assert cells(MAP, 5) == ["in", "in", "out", "out", "in"]
    assert cells(None, 3) == ["none"] * 3
    assert len(cells(MAP, 137)) == 137


def test_the_samples_line_is_that_of_its_speed() -> None:
    run = open_recording(SWEEP)
    speed = speed_map(run.data, run.analysis().rows, 45.0)
    channel, machine = run.data.speed, run.data.machine
    assert channel is not None
    assert machine is not None
    usable = channel.value[channel.usable]
    assert speed.inside.sum() == ((usable >= 3500) & (usable <= 3700)).sum() > 5


@pytest.mark.parametrize("columns", [4, 63, 180])
def test_a_place_on_the_line_and_its_time_belong_together(columns: int) -> None:
    for column in range(columns):
        assert cell_of(time_at(column, columns, 45.0) / 45.0, columns) == column
    assert (time_at(-5, columns, 45.0), time_at(columns + 5, columns, 45.0)) == (0.0, 45.0)


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ({"paused": False, "ended": False, "rate": 0.5}, "playing 0.5 x"),
        ({"paused": False, "ended": False, "rate": 0.0}, "playing as fast as it goes"),
        ({"paused": True, "ended": False, "rate": 2.0}, "paused"),
        ({"paused": True, "ended": True, "rate": 2.0}, "at the end"),
    ],
)
def test_the_state_in_words(state: dict[str, object], words: str) -> None:
    assert scrub_view(12.0, 45.0, speed=None, **state).state == words  # type: ignore[arg-type]  # from a table


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_keys_and_mouse_move_the_replay(size: tuple[int, int]) -> None:
    clock = ManualClock()
    screen = ReplayScreen(ReplayFeed(SWEEP, clock, at_end=True), SWEEP)
    async with shown_screen(screen, size) as (app, pilot):
        await wait_until(app, pilot, "The whole run's result")
        assert "at the end" in screen_rows(app)[0]
        await pilot.press("home")
        await wait_until(app, pilot, "0:00  playing 1 x")
        await pilot.press("space")
        await wait_until(app, pilot, "0:00  paused")
        await pilot.press("right", "right", "right")
        await wait_until(app, pilot, "0:15  paused")
        await pilot.press("shift+right", "left")
        await wait_until(app, pilot, "0:40  paused")
        line = app.screen.query_one(Scrub)
        middle = 9 + (size[0] - 18) // 2
        await pilot.click(Scrub, offset=(middle, 1))
        await wait_until(app, pilot, "0:22  paused")
        await pilot.press("plus", "space")
        await wait_until(app, pilot, "playing 2 x")
        assert "█" in "".join(text for text, _ in line.paint(*line.size)[1])
        await pilot.press("end")
        await wait_until(app, pilot, "at the end")


class RunAhead(ReplayFeed):
    """A fast replay whose place is always further than the newest snapshot."""

    def state(self) -> ReplayState:
        state = super().state()
        return replace(state, position_s=state.position_s + 6.0)


async def test_one_frame_tells_one_time() -> None:
    screen = ReplayScreen(RunAhead(SWEEP, ManualClock()), SWEEP)
    async with shown_screen(screen) as (app, pilot):
        await wait_until(app, pilot, "0:00  playing 1 x")
        await wait_until(app, pilot, "0:45 ")
        rows = screen_rows(app)
        assert "0:00  playing" in rows[0]
        assert not any("0:06" in row for row in rows), "the scrub line is ahead of what is shown"
