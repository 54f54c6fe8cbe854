"""The dashboard through Textual's pilot: what is on the screen, and what the keys do."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager

import pytest
from textual.pilot import Pilot
from textual.strip import Strip

from tests.tui.blocks import stands_in_blocks
from tests.tui.builders import CLOSED, EVENT, RecordingControl, StillFeed, empty_snapshot, result, snapshot
from tui.control import Watching
from tui.dashboard.app import Dashboard, make_app
from tui.dashboard.blockfont import Size, block_text
from tui.dashboard.help_screen import HelpScreen

SMALL, MIDDLE, LARGE = (80, 24), (120, 40), (200, 60)
BESIDE = ("limit at least 20.0 V", "chance over 99.9 %")


@asynccontextmanager
async def shown(
    feed: StillFeed,
    control: RecordingControl | Watching,
    size: tuple[int, int] = SMALL,
    *,
    plain: bool = False,
) -> AsyncIterator[tuple[Dashboard, Pilot[None]]]:
    """The dashboard after its first two looks at the feed."""
    app = make_app(feed, control, plain=plain, light=False)
    async with app.run_test(size=size) as pilot:
        while not app.run_screen.ready:
            await pilot.pause(0.01)
        app.run_screen.tick()
        await pilot.pause()
        yield app, pilot


def rows(app: Dashboard) -> list[str]:
    """The screen's characters, row by row."""
    width, height = app.size
    lines = app.run_screen._compositor.render_strips()
    assert len(lines) == height
    text = ["".join(segment.text for segment in strip) for strip in lines]
    assert {len(line) for line in text} == {width}
    return text


def running(app: Dashboard) -> bool:
    return app.is_running


def screen(app: Dashboard) -> str:
    return "\n".join(rows(app))


@pytest.mark.parametrize("size", [SMALL, MIDDLE, LARGE], ids=str)
async def test_all_that_matters_is_on_the_screen(size: tuple[int, int]) -> None:
    async with shown(StillFeed(snapshot()), RecordingControl(), size) as (app, _):
        text = screen(app)
    for words in (
        "rated output at 3600 rpm, unloaded",
        "meets its limit",
        *(("limit at least", "20.0 V, chance", "over 99.9 %") if size == SMALL else BESIDE),
        *(block_text("HOLD", Size.HALF)[:2] if size == LARGE else ["HOLD"]),
        "meter 24.51 V",
        "Held 3600 rpm for 22 s: 24.6 V ± 0.31 V. The run can be closed.",
        "volts at rated speed, V",
        "scpi-meter",
        "0.1 s ago",
        "9.9/s",
        "● recording",
        "q stop & close",
    ):
        assert words in text, words


@pytest.mark.parametrize("size", [SMALL, MIDDLE, LARGE], ids=str)
async def test_the_main_value_is_seven_rows_high_or_more(size: tuple[int, int]) -> None:
    async with shown(StillFeed(snapshot()), RecordingControl(), size) as (app, _):
        inked = [row for row in rows(app) if "██" in row[: size[0] // 2]]
    assert len(inked) >= 7


async def test_more_room_shows_more() -> None:
    feed = StillFeed(snapshot(events=(EVENT,)))
    async with shown(feed, RecordingControl(), SMALL) as (app, _):
        assert "V against rpm" not in screen(app)
    async with shown(feed, RecordingControl(), MIDDLE) as (app, _):
        text = screen(app)
        assert "V against rpm, 6.84 V each 1000 rpm" in text
        assert "speed, rpm" in text
    async with shown(feed, RecordingControl(), LARGE) as (app, _):
        assert "0:31 text-speed has been silent for 4 s." in screen(app)


async def test_a_small_screen_goes_through_its_plots() -> None:
    async with shown(StillFeed(snapshot()), RecordingControl()) as (app, pilot):
        seen = []
        for _ in range(4):
            seen.append(
                next(t for t in ("volts at rated speed", "speed, rpm", "V against rpm") if t in screen(app))
            )
            await pilot.press("t")
            await pilot.pause()
    assert seen == ["volts at rated speed", "speed, rpm", "V against rpm", "volts at rated speed"]


async def test_plain_is_ascii_only_and_says_the_same() -> None:
    async with shown(StillFeed(snapshot()), RecordingControl(), MIDDLE, plain=True) as (app, pilot):
        body = "\n".join(rows(app)[:-1])
        assert body.isascii()
        assert "+ meets its limit" in body
        assert "24.6 V +/- 0.31 V" in body
        await pilot.press("p")
        await pilot.pause()
        assert "✓ meets its limit" in screen(app)


async def test_light_and_dark() -> None:
    async with shown(StillFeed(snapshot()), RecordingControl()) as (app, pilot):
        dark = _ground_of_verdict(app)
        await pilot.press("l")
        await pilot.pause()
        light = _ground_of_verdict(app)
    assert (dark, light) == ("#5ab4f0", "#005a9c")


def _ground_of_verdict(app: Dashboard) -> str | None:
    """What the words of the verdict are drawn upon."""
    row = next(y for y, line in enumerate(rows(app)) if "meets its limit" in line)
    segments = app.screen._compositor.render_strips()[row]
    style = next(one.style for one in segments if "meets its limit" in one.text)
    return style.bgcolor.name if style is not None and style.bgcolor is not None else None


async def test_nothing_has_come_yet() -> None:
    async with shown(StillFeed(empty_snapshot()), RecordingControl()) as (app, _):
        text = screen(app)
    for words in ("not enough data", "yet", "limit at least", "20.0 V"):
        assert words in text
    assert stands_in_blocks("…", text.splitlines())
    assert stands_in_blocks("WAIT", text.splitlines())
    assert "Waiting for the first readings." in text
    assert "NO SPEED" in text


async def test_before_the_first_snapshot_the_screen_is_up() -> None:
    feed = StillFeed()
    async with shown(feed, RecordingControl()) as (app, _):
        assert feed.started
        assert app.run_screen.view is None
        assert "q stop & close" in screen(app)
    assert feed.stopped


async def test_values_change_in_place() -> None:
    feed = StillFeed(snapshot())
    async with shown(feed, RecordingControl()) as (app, pilot):
        feed.snapshot = snapshot(result=result(verdict="fail", rated_voltage_V=17.31))
        app.run_screen.tick()
        await pilot.pause()
        text = screen(app)
    assert stands_in_blocks("✗", text.splitlines())
    assert "misses its limit" in text
    assert "meets its limit" not in text


async def test_only_changed_rows_are_drawn_anew() -> None:
    feed = StillFeed(snapshot())
    async with shown(feed, RecordingControl()) as (app, pilot):
        await pilot.pause(0.3)
        canvas = app.run_screen.query_one("#verdict")
        drawn: list[int] = []
        render_line = canvas.render_line

        def counted(y: int) -> Strip:
            drawn.append(y)
            return render_line(y)

        canvas.render_line = counted  # type: ignore[method-assign]  # counts what is drawn
        app.run_screen.tick()
        await pilot.pause()
        assert drawn == []
        feed.snapshot = snapshot(result=result(conformance_probability=0.9))
        app.run_screen.tick()
        await pilot.pause()
        assert len(set(drawn)) == 1


async def test_q_closes_the_run_waits_for_it_and_leaves() -> None:
    feed, control = StillFeed(snapshot()), RecordingControl()
    async with shown(feed, control) as (app, pilot):
        await pilot.press("q")
        app.run_screen.tick()
        await pilot.pause()
        assert control.stops == 1
        assert "Closing the recording spinvolt-20261125-103000.jsonl" in screen(app)
        assert running(app)
        feed.snapshot = snapshot(finished=True, close=CLOSED)
        app.run_screen.tick()
        await pilot.pause()
        assert not running(app)
    assert app.failure is None


@pytest.mark.parametrize("key", ["ctrl+c", "ctrl+q"])
async def test_the_usual_ways_out_do_the_same(key: str) -> None:
    control = RecordingControl()
    async with shown(StillFeed(snapshot()), control) as (_, pilot):
        await pilot.press(key)
        assert control.stops == 1


async def test_ctrl_c_also_works_from_the_help_screen() -> None:
    control = RecordingControl()
    async with shown(StillFeed(snapshot()), control) as (app, pilot):
        await pilot.press("question_mark")
        await pilot.pause()
        assert isinstance(app.screen, HelpScreen)
        await pilot.press("ctrl+c")
        assert control.stops == 1


async def test_a_second_q_does_not_wait() -> None:
    control = RecordingControl()
    async with shown(StillFeed(snapshot()), control) as (app, pilot):
        await pilot.press("q")
        await pilot.press("q")
        await pilot.pause()
        assert control.stops == 1
        assert not running(app)


async def test_who_only_looks_on_leaves_at_once(tmp_path: object) -> None:
    control = Watching(RecordingControl().path)
    async with shown(StillFeed(snapshot()), control) as (app, pilot):
        assert "looking on" in screen(app)
        assert "q leave" in screen(app)
        assert "stop & close" not in screen(app)
        assert "mark" not in rows(app)[-1]
        await pilot.press("q")
        await pilot.pause()
        assert not running(app)


async def test_a_run_that_has_ended_stays_on_the_screen() -> None:
    control = RecordingControl()
    async with shown(StillFeed(snapshot(finished=True, close=CLOSED)), control) as (app, pilot):
        text = screen(app)
        assert "Closed; q leaves. It lies in spinvolt-20261125-103000.jsonl." in text
        assert "closed; q leaves" in rows(app)[0]
        assert "closed" in rows(app)[0]
        assert "q leave" in rows(app)[-1]
        await pilot.press("q")
        await pilot.pause()
        assert not running(app)
    assert control.stops == 0


async def test_m_writes_a_mark() -> None:
    control = RecordingControl()
    async with shown(StillFeed(snapshot()), control) as (_, pilot):
        await pilot.press("m")
        await pilot.press("m")
    assert control.marks == ["mark 1", "mark 2"]


async def test_a_closed_run_takes_no_marks() -> None:
    control = RecordingControl()
    async with shown(StillFeed(snapshot(finished=True, close=CLOSED)), control) as (_, pilot):
        await pilot.press("m")
    assert control.marks == []


async def test_a_capture_that_died_ends_the_screen() -> None:
    control = RecordingControl()
    async with shown(StillFeed(snapshot()), control) as (app, pilot):
        control.sentence = "The capture has ended."
        app.run_screen.tick()
        await pilot.pause()
        assert not running(app)


async def test_a_watched_run_that_died_says_so_and_stays() -> None:
    class Dead(Watching):
        def trouble(self) -> str:
            return "Nobody writes this recording any more."

    async with shown(StillFeed(snapshot()), Dead(RecordingControl().path)) as (app, pilot):
        app.run_screen.tick()
        await pilot.pause()
        assert "Nobody writes this recording any more." in screen(app)
        assert running(app)


async def test_what_goes_wrong_while_following_is_handed_on() -> None:
    feed = StillFeed(snapshot())
    async with shown(feed, RecordingControl()) as (app, pilot):
        feed.failure = OSError("the disk is gone")
        app.run_screen.tick()
        await pilot.pause()
        assert not running(app)
    assert app.failure is feed.failure


async def test_a_fault_in_the_screen_itself_is_handed_on_without_a_traceback(
    capfd: pytest.CaptureFixture[str],
) -> None:
    app = make_app(StillFeed(snapshot()), RecordingControl())
    # Under test, and only there, Textual raises it again at the end.
    with pytest.raises(ZeroDivisionError):  # noqa: PT012 - the error comes when the block is left
        async with app.run_test(size=SMALL) as pilot:
            app.call_later(lambda: 1 / 0)
            await pilot.pause(0.1)
    assert isinstance(app.failure, ZeroDivisionError)
    assert "Traceback" not in "".join(capfd.readouterr())


async def test_readings_can_be_typed_where_an_instrument_takes_them() -> None:
    control = RecordingControl()
    control.keyed = True
    async with shown(StillFeed(snapshot()), control) as (app, pilot):
        assert "k key in" in screen(app)
        await pilot.press("k")
        await pilot.pause()
        await pilot.press(*"19.6 3580", "enter")
        await pilot.press(*"q", "enter")
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen is app.run_screen
    assert control.lines == ["19.6 3580", "q"]
    assert control.stops == 0


async def test_without_such_an_instrument_nothing_can_be_typed() -> None:
    async with shown(StillFeed(snapshot()), RecordingControl()) as (app, pilot):
        assert "key in" not in screen(app)
        await pilot.press("k")
        await pilot.pause()
        assert app.screen is app.run_screen


async def test_help_explains_and_goes() -> None:
    async with shown(StillFeed(snapshot()), RecordingControl()) as (app, pilot):
        await pilot.press("question_mark")
        await pilot.pause()
        assert isinstance(app.screen, HelpScreen)
        await pilot.press("escape")
        await pilot.pause()
        assert not isinstance(app.screen, HelpScreen)


async def test_every_key_has_a_label_and_a_tooltip() -> None:
    async with shown(StillFeed(snapshot()), RecordingControl()) as (app, _):
        for binding in app.BINDINGS:
            assert binding.id  # type: ignore[union-attr]  # all are Binding objects
            assert binding.description  # type: ignore[union-attr]
            assert binding.tooltip  # type: ignore[union-attr]


async def test_resizing_draws_everything_anew() -> None:
    async with shown(StillFeed(snapshot()), RecordingControl(), MIDDLE) as (app, pilot):
        await pilot.resize_terminal(*SMALL)
        await pilot.pause(0.1)
        assert len(rows(app)) == 24
        assert "volts at rated speed, V" in screen(app)
        assert "now" in screen(app)
        await pilot.resize_terminal(60, 14)
        await pilot.pause(0.1)
        assert "██" in screen(app)


@pytest.fixture
def kept_handlers() -> Iterator[None]:
    """Signal handlers as they were."""
    before = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, before)


@pytest.mark.usefixtures("kept_handlers")
async def test_sigterm_closes_the_run() -> None:
    control = RecordingControl()
    async with shown(StillFeed(snapshot()), control) as (_, pilot):
        os.kill(os.getpid(), signal.SIGTERM)
        for _ in range(600):
            await asyncio.sleep(0.05)
            if control.stops:
                break
        await pilot.pause()
    assert control.stops == 1
