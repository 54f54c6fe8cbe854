"""What is said for a while: in rows of its own, over nothing that is needed."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.catalog import machine_card
from daq.job.job import Job
from daq.model.clock import ManualClock
from tests.tui.builders import RecordingControl, StillFeed, snapshot
from tests.tui.screen_text import SIZES, check_snapshot, screen_rows, screen_text, shown_screen
from tui.dashboard.job_screen import JobScreen
from tui.dashboard.run_screen import RunScreen
from tui.view.told import Told, added, told_rows

LONG = "The recording can't be written: the disk is full; make room, and it goes on by itself. " * 4


def test_rows_have_a_mark_and_the_full_width() -> None:
    told = (
        Told("Mark 1 at 0:45."),
        Told("A run is going on already.", "warning"),
        Told("It is gone.", "error"),
    )
    assert told_rows(told, 40, 6) == [
        (" i Mark 1 at 0:45.".ljust(40), "fill-quiet"),
        (" ! A run is going on already.".ljust(40), "fill-doubt"),
        (" ✗ It is gone.".ljust(40), "fill-bad"),
    ]


def test_a_number_stays_with_its_unit() -> None:
    (first, _), (second, _) = told_rows((Told("Hold captured at 0:45: 24.6 V ± 0.3 V"),), 36, 6)
    assert (first.rstrip(), second.rstrip()) == (" i Hold captured at 0:45:", "   24.6 V ± 0.3 V")


def test_the_newest_has_the_room_and_older_ones_what_is_left() -> None:
    told = (Told("older"), Told(LONG))
    rows = told_rows(told, 80, 3)
    assert len(rows) == 3
    assert rows[0][0].startswith(" i The recording")
    assert rows[2][0].rstrip().endswith("...")
    assert [row.strip() for row, _ in told_rows((*told, Told("newest")), 80, 3)] == ["i newest"]
    assert told_rows(told, 80, 0) == []


def test_three_are_kept_and_none_twice() -> None:
    told: tuple[Told, ...] = ()
    for word in "abcab":
        told = added(told, Told(word))
    assert [each.text for each in told] == ["c", "a", "b"]
    assert [each.text for each in added(told, Told("d", "error"))] == ["a", "b", "d"]


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_in_a_run_only_the_plots_give_way(size: tuple[int, int]) -> None:
    screen = RunScreen(StillFeed(snapshot()), RecordingControl())
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        app.forget_told()
        await pilot.pause()
        before = screen_rows(app)
        app.tell("The recording lies in run.jsonl, and the disk is nearly full.", severity="warning")
        await pilot.press("m")
        await pilot.pause()
        after = screen_rows(app)
        check_snapshot(app, "run-told")
        assert [row[:3] for row in after[-3:-1]] == [" ! ", " i "]
        top = next(at for at, row in enumerate(before) if "volts at rated speed" in row)
        assert after[:top] == before[:top], "no value has moved"
        assert after[-1] == before[-1], "the keys"
        for needed in ("scpi-meter", "text-speed", "-60 s"):
            assert needed in "\n".join(after)
        (seen,) = [row for row in after if "-60 s" in row][-1:]
        assert "now" in seen
        app.forget_told()
        await pilot.pause()
        assert screen_rows(app) == before


async def test_of_a_job_only_what_can_be_read_on_gives_way(tmp_path: Path) -> None:
    job = Job.create(tmp_path / "cart.jsonl", machine_card("nursery-sprayer"), ManualClock())
    async with shown_screen(JobScreen(job, ())) as (app, pilot):
        before = screen_rows(app)
        app.tell("The run did not start: /dev/ttyUSB0 is in use by another program.", severity="error")
        await pilot.pause()
        after = screen_rows(app)
        assert after[-2].startswith(" ✗ The run did not start")
        assert after[-3] == before[-2], "what Enter does"
        assert after[1:18] == before[1:18]
        assert "... 16 more rows below" in "\n".join(after)


async def test_it_comes_along_to_the_next_screen_and_drives_none(tmp_path: Path) -> None:
    job = Job.create(tmp_path / "cart.jsonl", machine_card("nursery-sprayer"), ManualClock())
    async with shown_screen(JobScreen(job, ()), plain=True) as (app, pilot):
        app.tell("24.6 V ± 0.3 V \x1b[2J[red]", title="Output", timeout_s=60)
        await pilot.press("question_mark")
        await pilot.pause()
        app.push_screen(RunScreen(StillFeed(snapshot()), RecordingControl()))
        for _ in range(100):
            if "Output: 24.6 V +/- 0.3 V" in screen_text(app):
                break
            await pilot.pause(0.01)
        assert "Output: 24.6 V +/- 0.3 V" in screen_text(app)
        assert "[red]" in screen_text(app)
        assert screen_text(app).isascii()


async def test_it_goes_by_itself() -> None:
    screen = RunScreen(StillFeed(snapshot()), RecordingControl())
    async with shown_screen(screen) as (app, pilot):
        screen.tick()  # which tells of the captured hold
        app.tell("It goes.", timeout_s=0.05)
        app.tell("It stays.", timeout_s=60)
        assert [each.text for each in app.told][-2:] == ["It goes.", "It stays."]
        for _ in range(500):
            if "It goes." not in [each.text for each in app.told]:
                break
            await pilot.pause(0.01)
        await pilot.pause()
        assert app.told[-1].text == "It stays."
        assert "It stays." in screen_text(app)
        assert "It goes." not in screen_text(app)


async def test_a_narrower_screen_gives_it_more_rows() -> None:
    screen = RunScreen(StillFeed(snapshot()), RecordingControl())
    async with shown_screen(screen, (120, 40)) as (app, pilot):
        screen.tick()
        app.forget_told()
        app.tell(LONG[:170])
        await pilot.pause()
        assert sum("the disk is full" in row or row.startswith("   ") for row in screen_rows(app)[-3:-1]) == 2
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        rows = screen_rows(app)[-4:-1]
        assert rows[0].startswith(" i The recording")
        assert "by itself" in "".join(rows)


@pytest.mark.parametrize("size", [(80, 15), (60, 15), (44, 14)], ids=str)
async def test_what_must_be_known_now_has_rows_on_a_low_screen(size: tuple[int, int]) -> None:
    control = RecordingControl()
    control.held = (
        "The disk has not taken the rest of run.jsonl for more than 2 s; waiting for it. Ctrl-C leaves."
    )
    screen = RunScreen(StillFeed(snapshot()), control)
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        app.forget_told()
        await pilot.pause()
        text = screen_text(app)
        control.held = ""
        screen.tick()
        await pilot.pause()
        after = screen_text(app)
    assert " ".join(_words_from(text)).endswith("Ctrl-C leaves.")
    assert "HOLD" in text
    assert "q stop & close" in text
    assert "The disk" not in after


def _words_from(text: str) -> list[str]:
    """The words from "The disk" to the row above the keys."""
    rows = text[text.index("The disk has not") :].rstrip().splitlines()[:-1]
    return " ".join(rows).split()


@pytest.mark.parametrize("size", [(80, 15), (80, 21), (60, 15), (44, 14)], ids=str)
async def test_on_a_low_screen_the_speed_bar_gives_way(size: tuple[int, int]) -> None:
    screen = RunScreen(StillFeed(snapshot()), RecordingControl())
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        app.forget_told()
        app.tell("The recording is moved.", severity="warning")
        await pilot.pause()
        told = screen_rows(app)
        app.forget_told()
        await pilot.pause()
        after = screen_rows(app)
    at = next(row for row, text in enumerate(told) if text.startswith(" ! The recording is moved."))
    assert any("q stop & close" in row for row in told[at + 1 :])
    assert told[:9] == after[:9], "the value and the verdict stay where they are"
    words = "\n".join(told[9:at])
    assert "HOLD" in words
    assert "meter 24.51 V" in words
    assert "The recording is moved" not in "\n".join(after)
