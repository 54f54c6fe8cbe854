"""The recordings screen through the pilot: what is on it, and what the keys and the mouse do."""

from __future__ import annotations

import os
import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui.screen_text import (
    SIZES,
    check_snapshot,
    screen_name,
    screen_rows,
    screen_text,
    shown_screen,
    wait_until,
)
from tests.tui.shelf.builders import FOUND, SUMMARIES, StillSummaries
from tui.dashboard.compare_screen import CompareScreen
from tui.dashboard.replay_screen import ReplayScreen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.shelf_screen import ShelfScreen
from tui.shelf.worker import SummaryProcess

SAMPLES = Path(__file__).parents[3] / "recordings"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder of empty files with the names and dates of the builders; times are told in UTC."""
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    monkeypatch.chdir(tmp_path)
    Path("recordings").mkdir()
    for one in FOUND:
        path = Path("recordings") / one.path
        path.touch()
        os.utime(path, ns=(one.modified_ns, one.modified_ns))
    yield Path("recordings")
    monkeypatch.undo()
    time.tzset()


def still(folder: Path) -> StillSummaries:
    import msgspec

    return StillSummaries(
        *(msgspec.structs.replace(s, path=str(folder / s.path)) for s in SUMMARIES.values())
    )


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("plain", [False, True], ids=["drawn", "plain"])
async def test_the_list(folder: Path, size: tuple[int, int], plain: bool) -> None:
    summaries = still(folder)
    async with shown_screen(ShelfScreen(folder, summaries), size, plain=plain) as (app, pilot):
        await pilot.press("space", "down", "space", "down")
        await pilot.pause()
        check_snapshot(app, "recordings-plain" if plain else "recordings")
        assert screen_text(app).isascii() is plain
    assert summaries.closed
    assert summaries.wanted[-1] == folder / "after.jsonl", "the newest is asked for last, and so comes first"


@pytest.mark.parametrize("width", [72, 80, 96, 109, 110, 120, 200])
async def test_a_date_has_its_year_at_every_width(folder: Path, width: int) -> None:
    async with shown_screen(ShelfScreen(folder, still(folder)), (width, 24)) as (app, _):
        dates = [row[4:20] for row in screen_rows(app)[2:9]]
        assert [date[:5] for date in dates] == ["2026-"] * 7
        assert all(re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d", date) for date in dates), dates
        assert {row[20] for row in screen_rows(app)[2:9]} == {" "}
        words = ("closed", "cut off", "changed", "going on", "no run", "…")
        ends = words if width >= 110 else ("●", "◌", "✗", "▶", "…")
        assert all(row.rstrip().endswith(ends) for row in screen_rows(app)[2:9])


async def test_the_cursor_goes_where_it_is_sent(folder: Path) -> None:
    async with shown_screen(ShelfScreen(folder, still(folder))) as (app, pilot):

        def chosen() -> str:
            return next(row for row in screen_rows(app) if row.startswith(" ▶"))[19:40]

        seen = []
        for key in ("end", "down", "up", "home", "pagedown", "pageup"):
            await pilot.press(key)
            await pilot.pause()
            seen.append(next(at for at, row in enumerate(screen_rows(app)) if row.startswith(" ▶")) - 2)
        assert seen == [6, 6, 5, 0, 6, 0]
        await pilot.click("#listing", offset=(30, 3))
        await pilot.pause()
        assert screen_rows(app)[4].startswith(" ▶")


async def test_more_recordings_than_rows_scroll(folder: Path) -> None:
    for number in range(40):
        (folder / f"run-{number:02}.jsonl").touch()
    async with shown_screen(ShelfScreen(folder, StillSummaries())) as (app, pilot):
        assert "47 recordings" in screen_text(app) or "to go" in screen_text(app)
        await pilot.press("end")
        await pilot.pause()
        listed = [row for row in screen_rows(app) if row.startswith(" ▶")]
        assert len(listed) == 1
        assert "new" in listed[0]


async def test_comparing_needs_two(folder: Path) -> None:
    async with shown_screen(ShelfScreen(folder, still(folder)), (120, 40)) as (app, pilot):
        await pilot.press("c")
        await wait_until(app, pilot, "Which two?")
        assert isinstance(app.screen, ShelfScreen)


async def test_an_empty_folder_says_what_to_do(tmp_path: Path) -> None:
    async with shown_screen(ShelfScreen(tmp_path / "none", StillSummaries()), (120, 40)) as (app, _):
        text = screen_text(app)
        assert "`spinvolt demo` makes one" in text
        assert "enter" not in text


@pytest.fixture
def samples(tmp_path: Path) -> Path:
    for at, name in enumerate(("weak-magnets-hunting", "healthy-sweep")):
        shutil.copy(SAMPLES / f"{name}.jsonl", tmp_path)
        os.utime(tmp_path / f"{name}.jsonl", (10**9 + at, 10**9 + at))
    return tmp_path


async def test_from_the_list_to_the_run_its_export_and_a_comparison(samples: Path) -> None:
    """With the real process behind the list, and real files."""
    async with shown_screen(ShelfScreen(samples, SummaryProcess()), (120, 40)) as (app, pilot):
        await wait_until(app, pilot, "27.58 V ± 0.13 V")
        await wait_until(app, pilot, "16.52 V ± 0.084 V")
        await pilot.press("enter")
        await wait_until(app, pilot, "The whole run's result")
        assert screen_name(app) == ReplayScreen.NAME
        await pilot.press("e")
        await wait_until(app, pilot, "Exported")
        assert (samples / "healthy-sweep.csv").read_bytes().count(b"\r\n") > 100
        await pilot.press("q")
        await wait_until(app, pilot, "2 recordings")
        await pilot.press("space", "down", "c")
        await wait_until(app, pilot, "a significant rise")
        assert screen_name(app) == CompareScreen.NAME
        text = screen_text(app)
        for words in (
            "The verdict went from fail to pass.",
            "weak-magnets-hunting.jsonl",
            "limit at least 20.0 V",
        ):
            assert words in text
        await pilot.press("s")
        await wait_until(app, pilot, "a significant fall")
        await pilot.press("r")
        await wait_until(app, pilot, "2 recordings")
        assert len(app.screen_stack) == 1


async def test_a_run_that_goes_on_is_watched(tmp_path: Path) -> None:
    from daq.recording.entries import SessionEntry
    from daq.recording.writer import RecordingWriter

    session = SessionEntry(program="test", started_utc="2026-03-14T09:00:00Z", source="run")
    with RecordingWriter.create(tmp_path / "now.jsonl", session, force=False) as writer:
        writer.flush()
        async with shown_screen(ShelfScreen(tmp_path, StillSummaries())) as (app, pilot):
            await pilot.press("enter")
            await wait_until(app, pilot, "looking on")
            assert type(app.screen) is RunScreen
            await pilot.press("q")
            await wait_until(app, pilot, "recordings ·")
        writer.close(10**9, "done")


async def test_a_file_that_is_no_recording_is_told_and_the_list_stays(tmp_path: Path) -> None:
    (tmp_path / "diary.jsonl").write_text("a diary\n")
    async with shown_screen(ShelfScreen(tmp_path, StillSummaries()), (120, 40)) as (app, pilot):
        await pilot.press("enter")
        await wait_until(app, pilot, "is no spinvolt recording")
        await wait_until(app, pilot, "recordings ·")
