"""The screens as narrow as a phone held upright."""

from __future__ import annotations

import re
from pathlib import Path

from textual.pilot import Pilot

from daq.catalog import machine_card
from daq.job.job import Job
from daq.model.clock import ManualClock
from tests.tui.builders import RecordingControl, StillFeed, snapshot
from tests.tui.snapshots import screen_text
from tests.tui.test_connect_screen import Reach, until
from tests.tui.test_connect_view import FOUND
from tui.dashboard.app import Dashboard, make_app
from tui.dashboard.connect_screen import ConnectScreen
from tui.dashboard.job_screen import JobScreen

PHONE = (55, 52)


async def laid_out(app: Dashboard, pilot: Pilot[None], words: str) -> None:
    """Wait until the screen stands as it does at this width."""
    await until(pilot, lambda: app.screen.has_class("-slim") and words in screen_text(app))
    await pilot.pause(0.1)


async def test_the_run_screen_keeps_value_verdict_and_guide() -> None:
    app = make_app(StillFeed(snapshot()), RecordingControl(), light=False)
    async with app.run_test(size=PHONE) as pilot:
        await laid_out(app, pilot, "now")
        rows = screen_text(app).splitlines()
    text = "\n".join(rows)
    for words in (
        "rated output at 3600 rpm, unloaded",
        "± 0.31 V",
        "✓ meets its limit",
        "limit at least 20.0 V, chance over 99.9 %",
        "HOLD",
        "meter 24.51 V",
        "volts at rated speed, V",
        "speed, rpm",
        "scpi-meter",
    ):
        assert words in text, words
    assert len([row for row in rows[:11] if "██" in row]) >= 7
    assert re.search(r"2100 +3500 +3700 +5100", text), "the guide's labels stand apart"


async def test_the_job_screen_has_its_tests_above_the_chosen_one(tmp_path: Path) -> None:
    job = Job.create(tmp_path / "cart.jsonl", machine_card("nursery-sprayer"), ManualClock())
    app = Dashboard(JobScreen(job), light=False)
    async with app.run_test(size=PHONE) as pilot:
        await laid_out(app, pilot, "BATTERY AT REST")
        text = screen_text(app)
    assert text.index("Wiring") < text.index("BATTERY AT REST") < text.index("Cautions")
    assert "▶ Enter, then type battery volts at rest." in text


async def test_the_connect_screen_has_what_was_chosen_below(tmp_path: Path) -> None:
    reach = Reach(*FOUND)
    kept = tmp_path / "instruments.toml"
    app = Dashboard(
        ConnectScreen(remembered=kept, find_them=reach.find, listen_to=reach.listen, read_from=reach.read_on),
        light=False,
    )
    async with app.run_test(size=PHONE) as pilot:
        await laid_out(app, pilot, "/dev/ttyUSB0: Enter")
        text = screen_text(app)
    assert text.index("Cards that could fit") < text.index("To record with") < text.index("Enter opens it")
