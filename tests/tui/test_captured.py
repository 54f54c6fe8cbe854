"""A captured hold: told once for each, with its value, and rung once."""

from __future__ import annotations

import numpy as np
import pytest

from tests.tui.builders import CLOSED, RecordingControl, StillFeed, snapshot
from tests.tui.screen_text import shown_screen, wait_until
from tests.tui.test_doing import steady
from tui.control import Watching
from tui.dashboard.run_screen import RunScreen
from tui.view.build import build_view
from tui.view.state import ViewState


def after(previous: ViewState | None, t_s: float, speed_rpm: float = 3600.0) -> ViewState:
    def speed_of(time_s):  # type: ignore[no-untyped-def]  # what the builder asks for
        return steady(time_s) - 3600.0 + speed_rpm

    return build_view(snapshot(t_s, speed_of), previous)


def test_a_hold_is_captured_once_and_has_to_be_let_go_before_the_next() -> None:
    view = after(None, 6.0)
    assert view.captured is None
    view = after(view, 11.0)
    assert view.captured is not None
    assert view.captured.words == "Hold captured at 0:11: 24.6 V ± 0.31 V"
    first = view.captured
    view = after(view, 25.0)
    assert view.captured is first

    def let_go(time_s: np.ndarray) -> np.ndarray:
        return np.where((time_s > 26) & (time_s < 32), 3000.0, steady(time_s))

    view = build_view(snapshot(30.0, let_go), view)
    assert view.captured is first
    view = build_view(snapshot(45.0, let_go), view)
    assert view.captured is not None
    assert (view.captured.number, view.captured.words[:21]) == (2, "Hold captured at 0:45")


def test_a_reading_that_turns_out_to_be_false_begins_no_other_hold() -> None:
    view = after(None, 130.0)
    assert view.captured is not None
    view = after(view, 131.0, 7200.0)
    view = after(view, 132.0)
    assert view.captured is not None
    assert view.captured.number == 1, "the same hold, though longer than the rows reach back"


def test_a_hold_that_began_while_nobody_looked_is_another_one() -> None:
    def again(time_s: np.ndarray) -> np.ndarray:
        return np.where(time_s < 14, 3600.0, np.where(time_s < 20, 3000.0, 3610.0))

    view = after(None, 12.0)
    for t_s, number in ((13.0, 1), (25.0, 1), (31.0, 1), (33.0, 2), (34.0, 2)):
        view = build_view(snapshot(t_s, again), view)
        assert view.captured is not None
        assert view.captured.number == number, t_s


def test_a_replay_that_is_wound_back_captures_its_hold_again() -> None:
    view = after(after(after(None, 11.0), 60.0), 5.0)
    assert view.captured is not None
    assert view.captured.number == 1
    view = after(view, 12.0)
    assert view.captured is not None
    assert (view.captured.number, view.captured.words[:21]) == (2, "Hold captured at 0:12")


def test_a_hold_without_a_result_is_not_captured() -> None:
    from tests.tui.builders import result

    view = build_view(snapshot(20.0, steady, result=result(rated_voltage_V=None)))
    assert view.captured is None


@pytest.mark.parametrize(
    ("control", "rings"), [(RecordingControl(), 1), (Watching(RecordingControl().path), 0)]
)
async def test_the_bell_rings_once_where_the_run_is_ours(
    control: RecordingControl | Watching, rings: int
) -> None:
    feed = StillFeed(snapshot(6.0, steady))
    screen = RunScreen(feed, control)
    async with shown_screen(screen) as (app, pilot):
        rung: list[int] = []
        app.bell = lambda: rung.append(1)  # type: ignore[method-assign]  # counts what would be heard
        for t_s in (11.0, 12.0, 13.0):
            feed.snapshot = snapshot(t_s, steady)
            screen.tick()
            await pilot.pause()
        assert len(rung) == rings
        if rings:
            seen = await wait_until(app, pilot, "Hold captured at 0:11:")
            assert "24.6 V ± 0.31 V" in seen.partition("captured")[2], "no unit on a row of its own"


async def test_a_run_that_has_ended_rings_no_more() -> None:
    feed = StillFeed(snapshot(6.0, steady))
    screen = RunScreen(feed, RecordingControl())
    async with shown_screen(screen) as (app, pilot):
        rung: list[int] = []
        app.bell = lambda: rung.append(1)  # type: ignore[method-assign]  # counts what would be heard
        feed.snapshot = snapshot(30.0, steady, finished=True, close=CLOSED)
        screen.tick()
        await pilot.pause()
    assert rung == []
