"""A recording that something else empties in mid-run: the dashboard of a small terminal says so."""

from __future__ import annotations

import asyncio
import os
from pathlib import Path

from tests.daq.capture.runs import spec
from tests.faults.rig import counters
from tests.tui.screen_text import SMALL, screen_text, shown_screen, wait_until
from tests.tui.shelf.builders import StillSummaries
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.shelf_screen import ShelfScreen
from tui.following import _end_lines
from tui.session import RunEnd


async def test_a_run_whose_recording_is_emptied_says_where_it_goes_on(tmp_path: Path) -> None:
    path, own, ends = tmp_path / "run.jsonl", tmp_path / "run-2.jsonl", list[RunEnd]()
    with counters(tmp_path) as instruments:
        what = spec(path, *((one.card, one.address) for one in instruments))
        async with shown_screen(ShelfScreen(tmp_path, StillSummaries()), SMALL) as (app, pilot):
            app.begin_run(what, ends.append)
            await wait_until(app, pilot, "● text-speed")
            assert isinstance(app.screen, RunScreen)
            os.truncate(path, 0)
            seen = await wait_until(app, pilot, "run.jsonl was changed or replaced by something else")
            assert "recording goes on in run-2.jsonl" in " ".join(seen.split())
            assert [each.severity for each in app.told] == ["warning"]
            app.forget_told()
            await asyncio.sleep(0.6)  # several snapshots of the new file, which tells of it from its start
            assert "something else" not in screen_text(app)
            await pilot.press("q")
            await wait_until(app, pilot, "spinvolt recordings")
    assert ends == [RunEnd(own, True, left=("run.jsonl",))]
    assert list(_end_lines(ends[0], results=False)) == [
        f"Recording: {own} (something else changed or replaced run.jsonl)"
    ]
