"""A run told line by line, with a hand-made run in the place of a real one."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable

import pytest

from daq.recording.entries import EventEntry
from daq.run.snapshot import Snapshot
from tests.tui.builders import CLOSED, EVENT, RecordingControl, empty_snapshot, result, snapshot
from tui.headless import events_after, follow_headless, progress_line


class Script:
    """Gives one snapshot after the other."""

    notice = ""

    def __init__(self, *snapshots: Snapshot, before: Callable[[], None] = lambda: None) -> None:
        self._snapshots = list(snapshots)
        self._before = before
        self.on_progress: Callable[[float], None] = lambda _: None

    def grown(self) -> bool:
        return True

    def update(self) -> Snapshot:
        self._before()
        return self._snapshots.pop(0) if len(self._snapshots) > 1 else self._snapshots[0]


def test_a_line_says_it_all() -> None:
    assert progress_line(snapshot()) == (
        "0:45, 3587 rpm, 24.51 V, rated output 24.6 V ± 0.31 V, meets its limit. "
        "Held 3600 rpm for 22 s: 24.6 V ± 0.31 V. The run can be closed."
    )
    assert progress_line(empty_snapshot()) == (
        "0:01, no speed, -- V, not enough data yet. Waiting for the first readings."
    )


def test_it_follows_to_the_end() -> None:
    said: list[str] = []
    end = snapshot(finished=True, close=CLOSED)
    assert follow_headless(Script(empty_snapshot(), snapshot(), end), RecordingControl(), said.append) is end
    assert said == []


def test_events_are_told_once_each_also_those_of_one_moment() -> None:
    said: list[str] = []
    twin = EventEntry(t_ns=EVENT.t_ns, kind="note", text="at the \x1b[2Jsame moment")
    states = [
        snapshot(events=(EVENT,)),
        snapshot(events=(EVENT, twin)),
        snapshot(events=(EVENT, twin), finished=True, close=CLOSED),
    ]
    follow_headless(Script(*states), RecordingControl(), said.append)
    assert said == ["0:31, text-speed has been silent for 4 s.", "0:31, at the same moment"]


def test_a_full_disk_is_told_once_and_its_end_by_the_recording() -> None:
    full = "The disk is full: run.jsonl can't grow. What stands in it is whole; make room on the disk."
    stall = EventEntry(t_ns=8 * 10**9, kind="stall", text=full)
    back = EventEntry(t_ns=21 * 10**9, kind="note", text="The disk takes the recording again.")
    said: list[str] = []
    control = RecordingControl()
    words = iter([full, full, "", ""])
    control.warning = lambda: next(words, "")  # type: ignore[method-assign]  # what the capture says
    states = [
        snapshot(),
        snapshot(),
        snapshot(events=(stall, back)),
        snapshot(events=(stall, back), finished=True, close=CLOSED),
    ]
    follow_headless(Script(*states), control, said.append)
    assert said == [full, "0:21, The disk takes the recording again."]


def test_two_words_that_take_turns_are_said_once_each_while_it_lasts() -> None:
    said: list[str] = []
    control = RecordingControl()
    words = iter(["full", "it makes the end wait", "full", "", "full"])
    control.warning = lambda: next(words, "")  # type: ignore[method-assign]  # what the capture says
    states = [*[snapshot()] * 5, snapshot(finished=True, close=CLOSED)]
    follow_headless(Script(*states), control, said.append)
    assert said == ["full", "it makes the end wait", "full"]


def test_a_full_disk_that_was_over_before_it_was_looked_at_is_told_by_the_recording() -> None:
    stall = EventEntry(t_ns=8 * 10**9, kind="stall", text="The disk is full.")
    said: list[str] = []
    end = snapshot(events=(stall,), finished=True, close=CLOSED)
    follow_headless(Script(end), RecordingControl(), said.append)
    assert said == ["0:08, The disk is full."]


def test_events_that_were_pushed_out_are_not_missed() -> None:
    gone = EventEntry(t_ns=1, kind="note", text="gone")
    assert events_after((EVENT,), gone) == (EVENT,)
    assert events_after((gone, EVENT), gone) == (EVENT,)
    assert events_after((gone,), gone) == ()


def test_a_signal_asks_for_the_end_and_the_end_is_waited_for() -> None:
    control = RecordingControl()
    states = iter([True])

    def once() -> None:
        if next(states, False):
            os.kill(os.getpid(), signal.SIGTERM)

    before = signal.getsignal(signal.SIGTERM)
    end = snapshot(finished=True, close=CLOSED)
    run = Script(snapshot(), snapshot(), end, before=once)
    assert follow_headless(run, control, lambda _: None) is end
    assert control.stops == 1
    assert signal.getsignal(signal.SIGTERM) is before


def test_a_second_control_c_is_an_interruption() -> None:
    control = RecordingControl()
    run = Script(snapshot(), before=lambda: os.kill(os.getpid(), signal.SIGINT))
    with pytest.raises(KeyboardInterrupt):
        follow_headless(run, control, lambda _: None)
    assert control.stops == 1


def test_a_disk_that_makes_the_end_wait_is_told_once_and_no_line_after_that(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tui.headless._LINE_EVERY_S", 0.01)
    control = RecordingControl()
    waits = "The disk has not taken the rest of run.jsonl; waiting for it."
    control.warning = lambda: waits if control.stops else ""  # type: ignore[method-assign]  # what it says then
    said: list[str] = []
    states = [*[snapshot()] * 4, snapshot(finished=True, close=CLOSED)]
    follow_headless(Script(*states), control, said.append, asked=lambda: True)
    assert said == [waits]


def test_a_capture_that_died_ends_it() -> None:
    control = RecordingControl()
    control.sentence = "The capture has ended."
    last = snapshot(result=result(verdict="fail"))
    assert follow_headless(Script(last), control, lambda _: None) is last
