"""The recordings screen while its folder changes under it, and the keys that its other tests do not press."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.tui.screen_text import screen_name, screen_rows, screen_text, shown_screen, wait_until
from tests.tui.shelf.builders import StillSummaries
from tests.tui.shelf.test_summaries import SWEEP
from tui.dashboard.app import Dashboard
from tui.dashboard.replay_screen import ReplayScreen
from tui.dashboard.shelf_screen import ShelfScreen


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three recordings; the newest is the third."""
    inside = tmp_path / "recordings"
    inside.mkdir()
    for at, name in enumerate(("first", "second", "third")):
        begun = b"2026-03-14T09:00:%02dZ" % at
        (inside / f"{name}.jsonl").write_bytes(SWEEP.read_bytes().replace(b"2026-03-14T09:00:00Z", begun, 1))
    return inside


def chosen(app: Dashboard) -> str:
    """The row under the cursor."""
    (row,) = (row for row in screen_rows(app) if row.startswith(" ▶"))
    return row


async def listed_again(app: Dashboard, pilot: Pilot[None]) -> None:
    """Let the screen look until it has listed its folder once more."""
    screen = app.screen
    assert isinstance(screen, ShelfScreen)
    screen._looks = 0
    screen.look()
    await pilot.pause()


async def test_where_the_chosen_recording_is_gone_its_neighbour_is_chosen(folder: Path) -> None:
    async with shown_screen(ShelfScreen(folder, StillSummaries()), (120, 40)) as (app, pilot):
        await pilot.press("end")
        assert "first" in chosen(app)
        (folder / "first.jsonl").unlink()
        await listed_again(app, pilot)
        assert "second" in chosen(app)
        await pilot.press("enter")
        await wait_until(app, pilot, "The whole run's result")
        assert screen_name(app) == ReplayScreen.NAME


async def test_when_the_last_one_is_gone_nothing_can_be_done_until_another_comes(folder: Path) -> None:
    for name in ("first", "second"):
        (folder / f"{name}.jsonl").unlink()
    async with shown_screen(ShelfScreen(folder, StillSummaries()), (120, 40)) as (app, pilot):
        assert "enter" in screen_rows(app)[-1]
        shutil.move(folder / "third.jsonl", folder / "third.away")
        await listed_again(app, pilot)
        assert "No recordings are in" in screen_text(app)
        assert "enter" not in screen_rows(app)[-1]
        await pilot.press("enter", "y", "space", "c", "e", "w", "down")
        assert len(app.screen_stack) == 1
        shutil.move(folder / "third.away", folder / "third.jsonl")
        await listed_again(app, pilot)
        assert "third" in chosen(app)
        assert "enter" in screen_rows(app)[-1]


async def test_a_mark_goes_with_its_recording(folder: Path) -> None:
    async with shown_screen(ShelfScreen(folder, StillSummaries()), (120, 40)) as (app, pilot):
        await pilot.press("space", "down", "space")
        await pilot.pause()
        assert "before" in chosen(app)
        (folder / "third.jsonl").unlink()
        await listed_again(app, pilot)
        assert "marked" in chosen(app)
        await pilot.press("down", "c")
        await pilot.pause()
        assert "Which two?" not in screen_text(app)
        assert screen_name(app) == "compare"
        await pilot.press("q")


def put_a_file_in_its_place(folder: Path, away: Path) -> None:
    folder.rename(away)
    folder.touch()


def put_it_back(folder: Path, away: Path) -> None:
    folder.unlink()
    away.rename(folder)


async def test_a_folder_that_can_not_be_read_is_told_once_and_what_was_listed_stays(folder: Path) -> None:
    away = folder.with_name("away")
    async with shown_screen(ShelfScreen(folder, StillSummaries()), (120, 40)) as (app, pilot):
        put_a_file_in_its_place(folder, away)
        for _ in range(3):
            await listed_again(app, pilot)
        await wait_until(app, pilot, "can't be read: Not a directory.")
        assert len(app.told) == 1
        assert "third" in chosen(app)
        app.forget_told()
        put_it_back(folder, away)
        await listed_again(app, pilot)
        put_a_file_in_its_place(folder, away)
        await listed_again(app, pilot)
        assert len(app.told) == 1, "it went well in between: it is told anew"


async def test_the_wheel_moves_the_cursor_and_a_double_click_opens(folder: Path) -> None:
    async with shown_screen(ShelfScreen(folder, StillSummaries()), (120, 40)) as (app, pilot):
        from textual.events import MouseScrollDown, MouseScrollUp

        assert await pilot._post_mouse_events([MouseScrollDown], "#listing", offset=(5, 2), button=0)
        await pilot.pause()
        assert "first" in chosen(app)
        assert await pilot._post_mouse_events([MouseScrollUp], "#listing", offset=(5, 2), button=0)
        await pilot.pause()
        assert "third" in chosen(app)
        await pilot.click("#listing", offset=(5, 20))
        await pilot.click("#listing", offset=(5, 0))
        await pilot.pause()
        assert "third" in chosen(app), "below the last row and on the head nothing is chosen"
        await pilot.double_click("#listing", offset=(5, 2))
        await wait_until(app, pilot, "The whole run's result")


async def test_y_plays_from_the_beginning(folder: Path) -> None:
    async with shown_screen(ShelfScreen(folder, StillSummaries()), (120, 40)) as (app, pilot):
        await pilot.press("y")
        for _ in range(1000):  # not for one second of it, which a busy machine may pass over
            if at := re.search(r"\b0:(\d\d)  playing", screen_text(app)):
                break
            await pilot.pause(0.02)
        assert at, screen_text(app)
        assert int(at[1]) < 10
        assert screen_name(app) == ReplayScreen.NAME
        assert "The whole run's result" not in screen_text(app)


async def test_e_and_w_write_beside_the_recording(folder: Path) -> None:
    async with shown_screen(ShelfScreen(folder, StillSummaries()), (120, 40)) as (app, pilot):
        await pilot.press("e", "w")
        await wait_until(app, pilot, "third.csv")
        await wait_until(app, pilot, "third.html")
    assert (folder / "third.csv").read_bytes().count(b"\r\n") > 100
    assert "Sprayer cart" in (folder / "third.html").read_text()
