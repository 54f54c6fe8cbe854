"""Terminals that are too small for the run screen, and those that are only just large enough."""

from __future__ import annotations

import pytest

from daq.model.reading import Quality
from daq.run.snapshot import ChannelNow
from tests.tui.blocks import stands_in_blocks
from tests.tui.builders import RecordingControl, StillFeed, result, snapshot
from tests.tui.screen_text import screen_rows, screen_text, shown_screen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.widgets.cramped import LEAST_COLUMNS, LEAST_ROWS

FAR = snapshot(
    speed=ChannelNow("rpm", 3784.0, Quality.GOOD, 0.2), result=result(verdict="fail", rated_voltage_V=17.31)
)
SMALL = (40, 12)


def words(text: str) -> str:
    return " ".join(text.split())


async def test_where_there_is_no_room_it_is_said_in_words_with_the_size_that_is_needed() -> None:
    screen = RunScreen(StillFeed(FAR), RecordingControl())
    async with shown_screen(screen, SMALL) as (app, pilot):
        screen.tick()
        await pilot.pause()
        text = words(screen_text(app))
        for told in (
            "✗ FAIL: misses its limit",
            "17.3 V ±",
            "3784 rpm: a little less throttle, 180 rpm to go",
            "Known: 17.3 V",
            f"This window is 40x12; the screen needs {LEAST_COLUMNS}x{LEAST_ROWS}.",
            "q stop & close",
        ):
            assert told in text, (told, text)
        await pilot.resize_terminal(LEAST_COLUMNS, LEAST_ROWS)
        await pilot.pause()
        assert "the screen needs" not in words(screen_text(app))
        await pilot.resize_terminal(LEAST_COLUMNS, LEAST_ROWS - 1)
        await pilot.pause()
        assert "the screen needs" in words(screen_text(app))


async def test_plain_words_are_ascii() -> None:
    screen = RunScreen(StillFeed(FAR), RecordingControl())
    async with shown_screen(screen, SMALL, plain=True) as (app, pilot):
        screen.tick()
        await pilot.pause()
        assert "x FAIL: misses its limit" in screen_text(app)
        assert screen_text(app).isascii()


@pytest.mark.parametrize(
    "size", [(LEAST_COLUMNS, LEAST_ROWS), (60, 14), (60, 16), (72, 15), (80, 16)], ids=str
)
async def test_the_least_size_has_value_verdict_and_guide_whole(size: tuple[int, int]) -> None:
    screen = RunScreen(StillFeed(FAR), RecordingControl())
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        app.forget_told()  # beside a message the guide gives its bar up
        await pilot.pause()
        rows = screen_rows(app)
    text = "\n".join(rows)
    assert "✗" in text or stands_in_blocks("✗", rows)
    for told in ("LESS THROTTLE", "3500", "q stop & close"):
        assert told in text, told
    assert "FAIL" in text or "misses its limit" in text
    assert ("▶ Known: 17.3 V" in text) is (size[1] > LEAST_ROWS), "the sentence needs a row more"
    assert ("rated output at 3600 rpm" in text) is (size[1] > LEAST_ROWS)
    assert sum("██" in row for row in rows) >= 7


@pytest.mark.parametrize("columns", range(LEAST_COLUMNS, 82, 2))
@pytest.mark.parametrize("speed_rpm", [2880.0, 3280.0, 3784.0, 3600.0])
def test_what_to_do_is_never_cut_in_mid_word(columns: int, speed_rpm: float) -> None:
    from tui.dashboard.widgets.speed import SpeedGuide
    from tui.view.speed import speed_view

    view = speed_view(ChannelNow("rpm", speed_rpm, Quality.GOOD, 0.1), FAR.machine)
    guide = SpeedGuide()
    guide.show(view, "24.51 V")
    row = "".join(text for text, _ in guide.paint(columns, 4)[0]).rstrip()
    assert len(row) <= columns
    assert view.action.upper().removeprefix("A LITTLE ") in row
    if " · " in row:
        after = row.partition(" · ")[2].replace("meter 24.51 V", "").replace("24.51 V", "").strip()
        assert after in (view.to_go, view.to_go.removesuffix(" to go"))


def test_at_sixty_columns_the_distance_is_whole() -> None:
    from tui.dashboard.widgets.speed import SpeedGuide
    from tui.view.speed import speed_view

    guide = SpeedGuide()
    guide.show(speed_view(ChannelNow("rpm", 3380.0, Quality.GOOD, 0.1), FAR.machine), "24.51 V")
    row = "".join(text for text, _ in guide.paint(60, 4)[0])
    assert "A LITTLE MORE THROTTLE · 220 rpm" in row
