"""Every state of the run screen as text, at both sizes: what changes on it is seen in a diff."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.model.reading import Quality
from daq.run.rows import AlignedRows, RawSeries
from daq.run.snapshot import ChannelNow, Snapshot
from daq.verdict.result import Result
from tests.tui.builders import (
    CLOSED,
    EVENT,
    RecordingControl,
    StillFeed,
    empty_snapshot,
    health,
    result,
    snapshot,
)
from tests.tui.screen_text import SIZES, check_snapshot, screen_text, shown_screen
from tui.dashboard.run_screen import RunScreen

RPM = ChannelNow("rpm", 3590.0, Quality.GOOD, 0.2)
VOLTS = ChannelNow("V", 24.51, Quality.GOOD, 0.1)
MISSING = "Only 3 rows count; at least 8 are needed to state a rated output."
LOADED = (
    "A current of 6.2 A flowed during the run, into the battery by its sign: under load the volts are not in "
    "proportion to speed. Disconnect the load and repeat."
)
LONGER = "Hold the engine near rated speed for about 20 s more to decide it."


def no_result(*reasons: str, **changes: object) -> Result:
    """A result as it is while there is no output."""
    return Result(rated_speed_rpm=3600, minimum_V=20.0, rows=3, reasons=[*reasons], **changes)  # type: ignore[arg-type]  # a builder takes any field


OPEN = no_result(MISSING)


def sweeping(time_s: np.ndarray) -> np.ndarray:
    speed: np.ndarray = 2700 + 900 * np.sin(time_s / 7)
    return speed


def unscaled(rows: AlignedRows) -> AlignedRows:
    """As they are where the volts do not follow the speed, or no rated speed is known."""
    unknown = np.full(len(rows.time_s), np.nan)
    return replace(rows, rated_voltage_V=unknown, u_rated_voltage_V=unknown)


STATES: dict[str, Snapshot] = {
    "waiting": empty_snapshot(),
    "standing": snapshot(
        6.0,
        speed=replace(RPM, value=0.0),
        voltage=replace(VOLTS, value=0.02),
        raw_speed=RawSeries(np.arange(0.0, 6.0, 0.5), np.zeros(12)),
        rows=AlignedRows.empty(),
        result=no_result("Only 0 rows count; at least 8 are needed to state a rated output."),
    ),
    "warming": snapshot(10.0, result=OPEN),
    "below": snapshot(speed=replace(RPM, value=2880.0), result=OPEN),
    "above": snapshot(speed=replace(RPM, value=3784.0), result=OPEN),
    "holding": snapshot(27.0),
    "held": snapshot(),
    "sweep": snapshot(60.0, sweeping),
    "fail": snapshot(result=result(verdict="fail", rated_voltage_V=17.31, conformance_probability=0.0001)),
    "too-close": snapshot(
        result=result(
            verdict="too_close",
            rated_voltage_V=20.11,
            conformance_probability=0.64,
            reasons=["Close.", LONGER],
        )
    ),
    "loaded": snapshot(result=no_result(LOADED), rows=unscaled(snapshot().rows)),
    "no-limit": snapshot(result=result(verdict="no_limit", minimum_V=None, conformance_probability=None)),
    "no-machine": snapshot(
        machine=None,
        rows=unscaled(snapshot().rows),
        result=Result(reasons=["No rated test speed is known: name a machine card with --machine."]),
    ),
    "overload": snapshot(voltage=replace(VOLTS, value=None, quality=Quality.OVERLOAD)),
    "tach-silent": snapshot(
        speed=replace(RPM, age_s=4.2),
        health=(health(), health("text-speed", state="silent", age_s=4.2, rate_hz=None, text=EVENT.text)),
        events=(EVENT,),
    ),
    "no-tach": empty_snapshot(
        t_s=9.0,
        voltage=VOLTS,
        health=(health(), health("text-speed", state="waiting", age_s=None, rate_hz=None, readings=0)),
    ),
    "no-meter": empty_snapshot(
        t_s=9.0,
        speed=RPM,
        health=(
            health(state="waiting", age_s=None, rate_hz=None, readings=0),
            health("text-speed", rate_hz=2.0, readings=18),
        ),
    ),
    "link-lost": snapshot(
        voltage=replace(VOLTS, age_s=7.0),
        health=(
            health(state="lost", age_s=7.0, rate_hz=None, text="/dev/ttyUSB0 is gone: plug it in again."),
            health("text-speed"),
        ),
    ),
    "both-lost": snapshot(
        voltage=replace(VOLTS, age_s=7.0),
        speed=replace(RPM, age_s=7.0),
        health=(
            health(state="lost", age_s=7.0, rate_hz=None, text="/dev/ttyUSB0 is gone: plug it in again."),
            health(
                "text-speed",
                state="lost",
                age_s=7.0,
                rate_hz=None,
                text="/dev/ttyUSB1 is gone: plug it in again.",
            ),
        ),
    ),
    "silent-a-minute": replace(
        snapshot(),
        t_s=106.0,
        speed=replace(RPM, age_s=61.0),
        health=(health(), health("text-speed", state="silent", age_s=61.0, rate_hz=None)),
    ),
    "slow": snapshot(
        voltage=replace(VOLTS, age_s=5.2, usual_s=5.0),
        speed=replace(RPM, age_s=12.0, usual_s=5.0),
        health=(health(age_s=5.2, usual_s=5.0, rate_hz=0.2), health("text-speed", age_s=12.0, usual_s=5.0)),
    ),
    "closed": snapshot(finished=True, close=CLOSED),
    "closed-at-once": empty_snapshot(result=OPEN, finished=True, close=CLOSED),
    "cut-off": snapshot(finished=True),
}


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_every_state_of_the_run_screen(size: tuple[int, int]) -> None:
    feed = StillFeed(STATES["waiting"])
    screen = RunScreen(feed, RecordingControl())
    async with shown_screen(screen, size) as (app, pilot):
        for name, state in STATES.items():
            feed.snapshot = state
            screen.view = None
            screen._plotted_s = -1.0
            screen.tick()
            await pilot.pause()
            app.forget_told()
            await pilot.pause()
            check_snapshot(app, f"run-{name}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_plain_is_ascii_to_the_last_row(size: tuple[int, int]) -> None:
    feed = StillFeed(STATES["held"])
    screen = RunScreen(feed, RecordingControl())
    async with shown_screen(screen, size, plain=True) as (app, pilot):
        screen.tick()
        await pilot.pause()
        check_snapshot(app, "run-held-plain")
        assert screen_text(app).isascii()
        for keys in ("question_mark", "escape", "ctrl+p"):
            await pilot.press(keys)
            await pilot.pause(0.2)
            assert screen_text(app).isascii(), (keys, screen_text(app))
