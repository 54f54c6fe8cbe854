from __future__ import annotations

from pathlib import Path

import pytest

from daq.model.clock import ManualClock
from daq.model.reading import Reading
from daq.recording.batch import join_batches
from daq.recording.entries import CloseEntry, MarkEntry
from daq.recording.follow import FileFollower, Replay
from daq.recording.reader import read_recording
from tests.daq.recording.builders import SPEED, VOLTS, is_finished, raw, readings, record

SECOND = 1_000_000_000


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Ten readings a second for two seconds, a mark at 1.05 s."""
    lines = readings(20)
    return record(tmp_path / "run.jsonl", [*lines[:11], MarkEntry(t_ns=1_050_000_000, text="x"), *lines[11:]])


def test_lines_come_when_their_time_has_come_and_not_before(path: Path) -> None:
    clock = ManualClock(start_ns=77 * SECOND)
    with Replay(path, clock, 1.0) as replay:
        first = replay.poll()
        assert first.entries[1:] == [VOLTS, SPEED]
        assert first.t_ns.tolist() == [0]
        assert not replay.poll()
        clock.advance(0.95)
        assert replay.poll().t_ns.tolist() == [i * SECOND // 10 for i in range(1, 10)]
        clock.advance(0.07)
        before_mark = replay.poll()
        assert before_mark.t_ns.tolist() == [SECOND]
        assert before_mark.entries == []
        clock.advance(0.03)
        at_mark = replay.poll()
        assert [type(entry) for entry in at_mark.entries] == [MarkEntry]
        assert at_mark.entry_at == [0]
        assert not is_finished(replay)
        clock.advance(5)
        rest = replay.poll()
        assert len(rest.t_ns) == 9
        assert [type(entry) for entry in rest.entries] == [CloseEntry]
        assert is_finished(replay)
        assert replay.problems == []
        assert not replay.poll()


@pytest.mark.parametrize("rate", [0.1, 0.5, 3.0, 100.0])
def test_the_rate_is_how_fast_its_time_runs(path: Path, rate: float) -> None:
    clock = ManualClock()
    with Replay(path, clock, rate) as replay:
        replay.poll()
        clock.advance(1.0 / rate)
        assert replay.position_ns == pytest.approx(SECOND, abs=10)
        assert replay.poll().t_ns[-1] in (900_000_000, SECOND)


def test_rate_zero_gives_all_at_once_and_the_same_as_the_file(path: Path) -> None:
    clock = ManualClock()
    with Replay(path, clock, 0) as replay, FileFollower(path) as follower:
        replayed, followed = replay.poll(), follower.poll()
        assert is_finished(replay)
    assert replayed.entries == followed.entries
    assert replayed.entry_at == followed.entry_at
    assert replayed.value.tolist() == followed.value.tolist()
    assert clock.now_ns() == 0


def test_pausing_and_changing_the_rate_neither_skips_nor_repeats(path: Path) -> None:
    clock = ManualClock()
    with Replay(path, clock, 1.0) as replay:
        batches = [replay.poll()]
        clock.advance(0.55)
        batches.append(replay.poll())
        replay.pause()
        clock.advance(60)
        assert not replay.poll()
        assert replay.paused
        replay.rate = 2.0
        assert replay.position_ns == 550_000_000
        replay.resume()
        clock.advance(0.1)
        assert replay.position_ns == 750_000_000
        batches.append(replay.poll())
        assert batches[-1].t_ns.tolist() == [600_000_000, 700_000_000]
        replay.rate = 0
        batches.append(replay.poll())
        assert is_finished(replay)
    assert join_batches(batches).t_ns.tolist() == [i * SECOND // 10 for i in range(20)]


def test_a_pause_holds_at_rate_zero_too(path: Path) -> None:
    clock = ManualClock()
    with Replay(path, clock, 0) as replay:
        replay.pause()
        held = replay.poll()
        assert held.t_ns.tolist() == [0]
        replay.resume()
        assert len(replay.poll().t_ns) == 19


def test_seeking_forward_gives_what_lies_between_and_back_starts_anew(path: Path) -> None:
    clock = ManualClock()
    with Replay(path, clock, 1.0) as replay:
        replay.poll()
        assert replay.seek(SECOND) is False
        assert len(replay.poll().t_ns) == 10
        assert replay.seek(SECOND // 2) is True
        again = replay.poll()
        assert again.t_ns.tolist() == [i * SECOND // 10 for i in range(6)]
        assert len(again.entries) == 3
        clock.advance(0.1)
        assert replay.poll().t_ns.tolist() == [600_000_000]


def test_a_late_reading_of_another_channel_keeps_its_place_in_the_file(tmp_path: Path) -> None:
    out_of_step = [Reading(0, SECOND, 1.0), Reading(1, SECOND // 2, 2.0), Reading(0, 2 * SECOND, 3.0)]
    path = record(tmp_path / "run.jsonl", out_of_step)
    clock = ManualClock()
    with Replay(path, clock, 1.0) as replay:
        assert len(replay.poll().t_ns) == 0
        clock.advance(0.7)
        assert not replay.poll()
        clock.advance(0.3)
        assert replay.poll().value.tolist() == [1.0, 2.0]


def test_a_recording_that_was_cut_off_is_replayed_to_its_end_and_says_so(tmp_path: Path) -> None:
    path = tmp_path / "cut.jsonl"
    path.write_bytes(raw(*readings(5)) + b"[0,")
    with Replay(path, ManualClock(), 0) as replay:
        assert len(replay.poll().t_ns) == 5
        assert is_finished(replay)
        assert replay.problems == read_recording(path).problems


@pytest.mark.parametrize("rate", [-1.0, float("nan"), float("inf")])
def test_a_rate_that_makes_no_sense_is_refused(path: Path, rate: float) -> None:
    with pytest.raises(ValueError, match="makes no sense"):
        Replay(path, ManualClock(), rate)
    with Replay(path, ManualClock(), 1) as replay, pytest.raises(ValueError, match="makes no sense"):
        replay.rate = rate
