"""The speed guide on a large screen: what to do is drawn as large as the numbers are."""

from __future__ import annotations

from dataclasses import replace

import pytest

from daq.model.reading import Quality
from daq.run.snapshot import ChannelNow, Snapshot
from tests.tui.builders import CLOSED, RecordingControl, StillFeed, empty_snapshot, result, snapshot
from tests.tui.screen_text import screen_rows, shown_screen
from tui.dashboard.blockfont import Size, block_text
from tui.dashboard.run_screen import RunScreen

RPM = ChannelNow("rpm", 3590.0, Quality.GOOD, 0.2)
OPEN = result(verdict="not_enough_data", rated_voltage_V=None, conformance_probability=None, reasons=[])


@pytest.mark.parametrize(
    ("state", "action", "beside"),
    [
        (snapshot(), "HOLD", "meter 24.51 V"),
        (snapshot(speed=replace(RPM, value=2880.0), result=OPEN), "MORE THROTTLE", "▶▶ 720 rpm to go"),
        (
            snapshot(speed=replace(RPM, value=3784.0), result=OPEN),
            "A LITTLE LESS THROTTLE",
            "◀ 180 rpm to go",
        ),
        (snapshot(speed=replace(RPM, value=0.0), result=OPEN), "START THE ENGINE", "▶▶▶ 3600 rpm to go"),
        (empty_snapshot(), "NO SPEED", "meter -- V"),
        (snapshot(finished=True, close=CLOSED), "THE RUN IS CLOSED", "meter -- V"),
    ],
)
async def test_what_to_do_is_large(state: Snapshot, action: str, beside: str) -> None:
    screen = RunScreen(StillFeed(state), RecordingControl())
    async with shown_screen(screen, (200, 60)) as (app, pilot):
        screen.tick()
        await pilot.pause()
        rows = screen_rows(app)
        drawn = [row.rstrip() for row in block_text(action, Size.HALF)]
        first = next((at for at, row in enumerate(rows) if drawn[0] in row), None)
        assert first is not None, "\n".join(rows)
        guide = rows[first : first + 7]
        assert all(part in row for part, row in zip(drawn, guide, strict=False))
        assert beside in guide[0] + guide[1]
        assert "┿" in guide[5]
        assert "3500" in guide[6]


@pytest.mark.parametrize("plain", [True, False])
@pytest.mark.parametrize("size", [(200, 60), (120, 60), (100, 60)])
async def test_where_it_does_not_fit_it_stands_as_text(size: tuple[int, int], plain: bool) -> None:
    state = snapshot(speed=replace(RPM, value=3784.0), result=OPEN)
    screen = RunScreen(StillFeed(state), RecordingControl())
    async with shown_screen(screen, size, plain=plain) as (app, pilot):
        screen.tick()
        await pilot.pause()
        rows = "\n".join(screen_rows(app))
        assert ("A LITTLE LESS THROTTLE" in rows) is (plain or size[0] < 200)
        assert "180 rpm to go" in rows
