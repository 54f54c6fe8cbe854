"""Following a recording: session time, the whole run at its end, the thread behind the screen."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from daq.errors import RecordingError
from daq.model.clock import ManualClock
from daq.recording.batch import Batch
from daq.recording.follow import FileFollower, Replay
from daq.run.analysis import Analysis, analyse
from daq.run.recorded import open_recording
from daq.run.snapshot import Snapshot
from tests.daq.recording.builders import readings, record
from tests.tui.builders import CLOSED, snapshot
from tui.dashboard.feed import ThreadFeed
from tui.followed import followed_file, followed_replay

SAMPLE = Path(__file__).parents[2] / "recordings" / "gap-and-false-tach.jsonl"


def test_the_last_snapshot_is_that_of_the_whole_recording() -> None:
    parts: list[float] = []
    with FileFollower(SAMPLE) as source:
        run = followed_file(source)
        run.on_progress = parts.append
        while not (last := run.update()).finished:
            pass
        assert last.result == open_recording(SAMPLE).result()
        assert run.update() is last
    assert parts == sorted(parts)
    assert parts[-1] == 1.0
    assert [part for part in parts if 0.4 < part < 1.0], "working out takes its time too"


def test_the_program_pauses_as_long_as_an_analysis_took(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = SAMPLE.read_bytes().splitlines(keepends=True)[:-1]  # not closed yet
    clock, analysed_at_s = ManualClock(), list[float]()

    def slow(*given: Any, **named: Any) -> Analysis:
        analysed_at_s.append(clock.now_ns() * 1e-9)
        clock.advance(1.5)
        return analyse(*given, **named)

    monkeypatch.setattr("daq.model.clock.SystemClock", lambda: clock)
    path = tmp_path / "run.jsonl"
    path.write_bytes(lines[0])
    with FileFollower(path) as source, path.open("ab", buffering=0) as file:
        run = followed_file(source)
        run.update()
        monkeypatch.setattr("daq.run.live.analyse", slow)
        for at in range(1, len(lines), 10):
            file.write(b"".join(lines[at : at + 10]))
            run.update()
            clock.advance(0.25)
    apart = [later - sooner for sooner, later in pairwise(analysed_at_s)]
    assert len(apart) >= 3
    assert min(apart) >= 3.0


def test_a_replay_goes_by_its_own_time() -> None:
    clock = ManualClock()
    with Replay(SAMPLE, clock, 2.0) as source:
        run = followed_replay(source)
        assert run.update().t_s == 0.0
        clock.advance(5.0)
        assert run.update().t_s == pytest.approx(10.0)
        clock.advance(5.0)
        state = run.update()
        assert state.t_s == pytest.approx(20.0)
        assert state.speed is not None
        assert state.speed.age_s > 1.0, "the tach has been silent since second 18"


def test_time_passes_while_nothing_comes(tmp_path: Path) -> None:
    cut = tmp_path / "cut.jsonl"
    cut.write_text("".join(SAMPLE.read_text().splitlines(keepends=True)[:60]))
    with FileFollower(cut) as source:
        run = followed_file(source)
        first = run.update()
        time.sleep(0.05)
        later = run.update()
    assert 0.05 <= later.t_s - first.t_s < 5.0
    assert later.voltage is not None
    assert later.voltage.age_s >= 0.05


def test_time_passes_before_the_first_reading_of_a_run_just_started(tmp_path: Path) -> None:
    bare = tmp_path / "bare.jsonl"
    bare.write_text("".join(SAMPLE.read_text().splitlines(keepends=True)[:3]))
    with FileFollower(bare) as source:
        run = followed_file(source, just_started=True)
        time.sleep(0.02)
        assert 0.02 <= run.update().t_s < 5.0


class Counted:
    """A run whose updates a test makes."""

    notice = ""

    def __init__(self, update: Callable[[int], Snapshot]) -> None:
        self.on_progress: Callable[[float], None] = lambda _: None
        self.count = 0
        self.seen = threading.Event()
        self._update = update

    def grown(self) -> bool:
        return False

    def update(self) -> Snapshot:
        self.count += 1
        self.seen.set()
        return self._update(self.count)


def test_the_feed_ends_with_the_run() -> None:
    end = snapshot(finished=True, close=CLOSED)
    feed = ThreadFeed(Counted(lambda _: end))
    assert feed.latest() is None
    feed.start()
    feed.stop()
    assert feed.latest() is end


def test_the_feed_hands_on_what_went_wrong() -> None:
    def fail(_: int) -> Snapshot:
        raise RecordingError("the recording was moved")

    run = Counted(fail)
    feed = ThreadFeed(run)
    feed.start()
    assert run.seen.wait(30)
    feed.stop()
    with pytest.raises(RecordingError, match="moved"):
        feed.latest()


def test_the_feed_stops_when_told() -> None:
    run = Counted(lambda _: snapshot())
    feed = ThreadFeed(run)
    feed.start()
    assert run.seen.wait(30)
    feed.stop()
    feed.stop()
    count = run.count
    assert count >= 1
    assert "spinvolt-follow" not in {thread.name for thread in threading.enumerate()}


def test_a_recording_is_opened_when_its_lines_are_asked_for(tmp_path: Path) -> None:
    from tui.latesource import LateSource

    with pytest.raises(RecordingError, match=r"gone\.jsonl"):
        LateSource(tmp_path / "gone.jsonl")
    path = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"
    with LateSource(path) as source:
        assert (source.finished, source.being_written(), source.problems) == (False, None, [])
        assert len(source.poll().t_ns) > 100
        assert source.finished
        assert source.being_written() is False
        assert followed_file(source).update().finished is True


def test_a_file_that_has_become_another_runs_is_not_judged(tmp_path: Path) -> None:
    path = record(tmp_path / "run.jsonl", readings(5))
    with _Swapped(path) as source, pytest.raises(RecordingError, match="another run's recording now"):
        followed_file(source).update()


class _Swapped(FileFollower):
    """Its file is replaced by another the moment that it was read."""

    def poll(self) -> Batch:
        batch = super().poll()
        other = self.path.with_name("other")
        other.write_bytes(SAMPLE.read_bytes())
        other.rename(self.path)
        return batch
