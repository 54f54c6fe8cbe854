"""A trial reading that goes on while its row is chosen, and gives its port back before anything else is done."""

from __future__ import annotations

import asyncio
from functools import partial
from pathlib import Path

import msgspec
import pytest

from daq.finding import Example, Found, Live
from tests.tui.snapshots import assert_same_screen, screen_text
from tests.tui.test_connect_screen import FREE_TACH, Reach, kept, shown, tried, until
from tests.tui.test_connect_view import FOUND, METER, TACH
from tui.dashboard.app import Dashboard
from tui.dashboard.connect_screen import ConnectScreen

__all__ = ["kept"]


def volts(value: float, words: str = "") -> Live:
    return Live((Example("ac_voltage", value, "V"),), words)


def shows(app: Dashboard, text: str) -> bool:
    return text in screen_text(app)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
async def test_the_reading_changes_while_the_row_is_chosen(kept: Path, size: tuple[int, int]) -> None:
    reach = Reach(*FOUND)
    async with shown(reach, kept, size) as (app, pilot, _):
        await tried(pilot, "enter")
        await until(pilot, lambda: reach.reading == [(METER, "scpi-meter")])
        for value in (24.6, 31.25):
            reach.live.append(volts(value))
            await until(pilot, partial(shows, app, f"● Now: {value:g} V AC"))
        text = screen_text(app)
        assert "Enter takes scpi-meter at /dev/ttyUSB0 (31.25 V AC)." in text
        assert_same_screen(app, f"connect-live-{size[0]}x{size[1]}")
        reach.live.append(Live((), "overload"))
        await until(pilot, lambda: "● Now: overload" in screen_text(app))
        await pilot.press("down")
        await until(pilot, lambda: reach.reading == [])
        await pilot.press("up")
        await pilot.pause(0.05)
        assert reach.reading == [], "only what a person listens to is opened"
        assert "Now:" not in screen_text(app)
        assert "24.512 V AC" in screen_text(app), "what was heard"
        await tried(pilot, "n")
        await until(pilot, lambda: reach.reading == [(METER, "scpi-meter")])
    for _ in range(3000):
        if not reach.reading:
            break
        await asyncio.sleep(0.01)
    assert reach.reading == [], "the thread has had its last turn"


async def test_one_that_is_pulled_out_is_told(kept: Path) -> None:
    reach = Reach(*FOUND)
    async with shown(reach, kept) as (app, pilot, _):
        await tried(pilot, "enter")
        reach.live.append(volts(24.6))
        await until(pilot, lambda: "Now: 24.6 V AC" in screen_text(app))
        reach.pulled = "/dev/ttyUSB0 is gone: plug it in again."
        await until(pilot, lambda: "✗ /dev/ttyUSB0 is gone" in screen_text(app))
        assert "Now:" not in screen_text(app)
        assert any(
            "/dev/ttyUSB0" in row and row.rstrip().endswith("gone") for row in screen_text(app).splitlines()
        )


async def test_another_card_reads_no_more_and_may_be_listened_to_anew(kept: Path) -> None:
    reach = Reach(*FOUND)
    async with shown(reach, kept) as (app, pilot, _):
        await tried(pilot, "enter")
        await until(pilot, lambda: len(reach.reading) == 1)
        await pilot.press("right")
        await until(pilot, lambda: reach.reading == [])
        assert "Enter takes text-volts" in screen_text(app)


async def test_the_port_is_free_before_it_is_listened_to_again_and_before_the_choice_is_told(
    kept: Path,
) -> None:
    reach = Reach(FOUND[0])
    async with shown(reach, kept, choose_only=True) as (app, pilot, _):
        told: list[object] = []
        again = ConnectScreen(
            remembered=kept,
            find_them=reach.find,
            listen_to=reach.listen,
            read_from=reach.read_on,
            choose_only=True,
        )
        app.push_screen(again, told.append)
        await until(pilot, lambda: again.ready and "looking" not in screen_text(app))
        await tried(pilot, "enter")
        await until(pilot, lambda: len(reach.reading) == 1)
        reach.let_go.clear()
        await pilot.press("n")
        await pilot.pause(0.1)
        assert len(reach.listened) == 1, "the port is still held"
        reach.let_go.set()
        await until(pilot, lambda: len(reach.listened) == 2 and len(reach.reading) == 1)
        await pilot.press("enter")
        await until(pilot, lambda: "Enter goes back with them" in screen_text(app))
        assert reach.reading == [(METER, "scpi-meter")]
        reach.let_go.clear()
        await pilot.press("enter", "enter", "g")
        await pilot.pause(0.1)
        assert told == []
        reach.let_go.set()
        await until(pilot, lambda: len(told) == 1)
        assert reach.reading == []


async def test_who_holds_the_port_is_not_told_when_it_is_this_screen(kept: Path) -> None:
    reach = Reach(FREE_TACH)
    async with shown(reach, kept) as (app, pilot, _):
        await tried(pilot, "enter")
        await until(pilot, lambda: reach.reading == [(TACH, "text-speed")])
        held = msgspec.structs.replace(FREE_TACH, in_use_by="python3 (process 77)")
        reach.found = Found((held,), reach.found.remarks)
        screen = app.first
        assert isinstance(screen, ConnectScreen)
        await screen._look(0.0)
        assert "process 77" not in screen_text(app)
        await pilot.press("down")
        await until(pilot, lambda: reach.reading == [])
        await screen._look(0.0)
        await pilot.press("up")
        await pilot.pause()
        assert "process 77" in screen_text(app)


async def test_another_screen_gets_the_port(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SPINVOLT_RECORDINGS", str(tmp_path / "none"))
    reach = Reach(FOUND[0])
    async with shown(reach, kept) as (_, pilot, _told):
        await tried(pilot, "enter")
        await until(pilot, lambda: len(reach.reading) == 1)
        await pilot.press("r")
        await until(pilot, lambda: reach.reading == [])
