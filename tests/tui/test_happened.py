"""What happens to a recording that a person must see: above the keys at every size, once, and long enough."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.recording.entries import EventEntry
from daq.recording.moved import Moved, moved_from, moved_once
from tests.tui.builders import CLOSED, RecordingControl, StillFeed, snapshot
from tests.tui.screen_text import MIDDLE, SMALL, screen_rows, screen_text, shown_screen, wait_until
from tests.tui.test_taking import STOPPED
from tui.dashboard.happened import Happened
from tui.dashboard.key_in_screen import KeyInScreen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.taking_screen import TakingScreen
from tui.resulttext import recording_line
from tui.view.happened import TOLD_FOR_S, to_be_seen

S = 1_000_000_000
MOVE = Moved(Path("tr.jsonl"), Path("tr-2.jsonl"))
PART = Moved(Path("tr.jsonl"), Path("tr-2.jsonl"), lost_readings=5120, from_ns=301 * S, whole=False)
MOVED = EventEntry(t_ns=6 * S, kind="note", text=MOVE.text)
MOVED_IN_PART = EventEntry(t_ns=700 * S, kind="loss", text=PART.text)
LOST = EventEntry(
    t_ns=40 * S,
    kind="loss",
    text="5 readings from 9.1 s to 9.6 s were lost: the recording could not be written and the memory set aside "
    "for it was full.",
)
OTHERS = (
    EventEntry(t_ns=S, kind="note", text="The instrument identifies itself."),
    EventEntry(t_ns=2 * S, kind="loss", text="2 lines were lost.", instrument="text-volts"),
    EventEntry(t_ns=3 * S, kind="stall", text="The disk is full: tr.jsonl can't grow."),
    EventEntry(t_ns=4 * S, kind="note", text=Moved(Path("tr.jsonl"), Path("tr.jsonl")).text),
)


def words(rows: list[str]) -> str:
    return " ".join(" ".join(rows).split())


def test_only_what_concerns_the_recording_itself_is_to_be_seen() -> None:
    assert list(to_be_seen(OTHERS)) == []
    assert list(to_be_seen((*OTHERS, MOVED, LOST, MOVED_IN_PART))) == [
        "At 0:06: tr.jsonl was changed or replaced by something else during the run; the recording goes on in "
        "tr-2.jsonl, whole.",
        f"At 0:40: {LOST.text}",
        "At 11:40: tr.jsonl was changed or replaced by something else during the run; the recording goes on in "
        "tr-2.jsonl, which begins at 301.0 s; the 5120 readings before that stood in tr.jsonl alone.",
    ]
    assert TOLD_FOR_S >= 60


def test_the_event_of_a_move_is_known_again_and_told_in_the_past_afterwards() -> None:
    assert [moved_from(event.text) for event in (*OTHERS, LOST)] == [None] * 5
    assert moved_from(MOVE.text) == moved_from(PART.text) == "tr.jsonl"
    assert moved_once(PART.text).startswith(
        "tr.jsonl was changed or replaced by something else during the run; the recording went on in tr-2.jsonl, which "
    )
    assert moved_once(LOST.text) == LOST.text


def test_the_closing_line_says_why_there_are_two_files() -> None:
    path = Path("tr-3.jsonl")
    assert recording_line(path, ()) == "Recording: tr-3.jsonl"
    assert recording_line(path, ("tr.jsonl", "tr-2.jsonl")) == (
        "Recording: tr-3.jsonl (something else changed or replaced tr.jsonl and tr-2.jsonl)"
    )
    assert "\x1b" not in recording_line(path, ("tr\x1b[2J.jsonl",))


@pytest.mark.parametrize(
    ("size", "event"),
    [
        (SMALL, MOVED),
        (SMALL, LOST),
        *((size, MOVED_IN_PART) for size in (SMALL, MIDDLE, (200, 60), (40, 24))),
    ],
    ids=str,
)
async def test_it_is_seen_at_every_size(size: tuple[int, int], event: EventEntry) -> None:
    feed = StillFeed(snapshot())
    screen = RunScreen(feed, RecordingControl())
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        app.forget_told()
        feed.snapshot = snapshot(t_s=46.0, events=(*OTHERS, event))
        screen.tick()
        await pilot.pause()
        foot = screen_rows(app)[-2 - size[1] // 4 : -1]
        marked = next(at for at, row in enumerate(foot) if row.startswith(" ! "))
        (sentence,) = to_be_seen((event,))
        seen = words(foot[marked:])[2:]
        room = (size[0] - 4) * (size[1] // 4)
        if room > 1.3 * len(sentence):
            assert seen == sentence
        else:
            assert sentence.startswith(seen.removesuffix(" ..."))


async def test_it_is_told_once_also_where_the_new_file_tells_of_it_again() -> None:
    feed = StillFeed(snapshot(events=(*OTHERS, MOVED)))
    screen = RunScreen(feed, RecordingControl())
    async with shown_screen(screen) as (app, pilot):
        screen.tick()
        assert [each.severity for each in app.told].count("warning") == 1
        app.forget_told()
        for events in ((), OTHERS, (*OTHERS, MOVED)):
            feed.snapshot = snapshot(t_s=47.0, events=events)
            screen.tick()
        feed.snapshot = snapshot(events=(*OTHERS, MOVED), finished=True, close=CLOSED)
        screen.tick()
        await pilot.pause()
        assert " ! " not in screen_text(app)
        feed.snapshot = snapshot(t_s=48.0, events=(*OTHERS, MOVED, LOST))
        screen.tick()
        assert [each.text for each in app.told if each.severity == "warning"] == [f"At 0:40: {LOST.text}"]


async def test_it_stays_while_what_is_told_besides_goes() -> None:
    feed = StillFeed(snapshot(events=(MOVED,)))
    screen = RunScreen(feed, RecordingControl())
    async with shown_screen(screen) as (app, pilot):
        screen.tick()
        app.tell("It goes.", timeout_s=0.02)
        for _ in range(1000):
            await pilot.pause(0.02)
            if "It goes." not in screen_text(app):
                break
        assert "It goes." not in screen_text(app)
        assert "goes on in tr-2.jsonl, whole." in words(screen_rows(app))


async def test_the_screen_of_a_reading_says_it_too() -> None:
    feed = StillFeed(snapshot(events=(MOVED,)))
    screen = TakingScreen(feed, RecordingControl(), STOPPED)
    async with shown_screen(screen) as (app, pilot):
        screen.tick()
        await pilot.pause()
        assert "goes on in tr-2.jsonl, whole." in words(screen_rows(app))


async def test_it_is_told_while_another_screen_lies_on_the_run() -> None:
    feed = StillFeed(snapshot())
    screen, other = RunScreen(feed, RecordingControl()), RunScreen(StillFeed(), RecordingControl())
    async with shown_screen(screen) as (app, pilot):
        app.push_screen(other)
        await pilot.pause(0.05)
        feed.snapshot = snapshot(events=(MOVED,))
        screen.tick()
        await pilot.pause(0.05)
        assert app.screen is other
        assert "goes on in tr-2.jsonl, whole." in words(screen_rows(app))


async def test_it_is_seen_while_readings_are_typed() -> None:
    feed, control = StillFeed(snapshot()), RecordingControl()
    control.keyed = True
    screen = RunScreen(feed, control)
    async with shown_screen(screen) as (app, pilot):
        screen.tick()
        app.push_screen(KeyInScreen(control))
        feed.snapshot = snapshot(events=(MOVED_IN_PART,))
        screen.tick()
        seen = await wait_until(app, pilot, "tr.jsonl was changed or replaced")
        assert "stood in tr.jsonl alone." in seen
        assert "19.6 3580" in seen, "the line to type into"
        app.forget_told()
        for _ in range(100):
            if "tr.jsonl" not in screen_text(app):
                break
            await pilot.pause(0.02)
        assert "tr.jsonl" not in screen_text(app)


def test_usual_events_leave_the_screen_alone() -> None:
    class Screen:
        going_on = False

        @property
        def dashboard(self) -> object:
            raise AssertionError("there is nothing to tell")

    happened = Happened(Screen())  # type: ignore[arg-type]  # a screen that must not be used
    happened.look(snapshot(events=OTHERS))
    happened.look(snapshot())
