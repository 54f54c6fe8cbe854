"""The wall clock jumps, the time zone is another, the computer sleeps: stamps hold, and the recording tells."""

from __future__ import annotations

import asyncio
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from daq.capture.clocks import ClockWatch
from daq.capture.pipes import StatusWriter
from daq.capture.program import Capture
from daq.model.clock import ManualClock, SystemClock
from daq.model.reading import Quality
from daq.recording.reader import read_recording
from daq.registry import load_registry
from daq.run.recorded import RecordedRun
from tests.daq.capture.runs import spec
from tests.faults.clocks import WHY_NOT, fake_time_library, jump_the_clock, set_the_clock_late
from tests.faults.rig import Counter, counted, start_capture, wait_until


@pytest.mark.skipif(fake_time_library() is None, reason=WHY_NOT)
def test_a_wall_clock_set_by_a_day_moves_no_stamp_and_is_told(tmp_path: Path) -> None:
    found = jump_the_clock(tmp_path, 86_400)
    assert found.lost == 0
    assert found.words == [
        "The computer's clock was set forward by 24 h 0 min; the times of the readings are not touched by it.",
        "The computer's clock was set back by 24 h 0 min; the times of the readings are not touched by it.",
    ]
    assert found.off_s == pytest.approx([86_400, 0], abs=1.0)


@pytest.mark.skipif(fake_time_library() is None, reason=WHY_NOT)
def test_a_run_that_began_before_the_clock_was_set_is_dated_from_when_it_was(tmp_path: Path) -> None:
    found = set_the_clock_late(tmp_path)
    recording = found.recording
    assert recording.session.started_utc.startswith("1970-01-01T00:00:")
    (word,) = found.words
    named = re.fullmatch(
        r"The computer's clock was set to ([-\d]+ [:\d]+) UTC; it had shown 1970-01-01, which is no date of a run; "
        "the times of the readings are not touched by it\\.",
        word,
    )
    assert named is not None, word
    assert abs(datetime.fromisoformat(f"{named[1]}Z") - found.began) < timedelta(seconds=90)
    assert abs(recording.start - found.began) < timedelta(seconds=20)
    (cut_off,) = recording.problems
    assert f"({recording.wall_clock.utc(recording.last_t_ns):%Y-%m-%d %H:%M:%S} UTC)" in cut_off
    rows = RecordedRun(recording).aligned()
    assert abs(rows["utc"].iloc[0] - found.began) < timedelta(seconds=20)
    seconds = (rows["utc"] - rows["utc"].iloc[0]).dt.total_seconds()
    np.testing.assert_allclose(seconds, rows["time_s"] - rows["time_s"].iloc[0], atol=2e-6)


def test_the_time_zone_does_not_reach_the_recording(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "run.jsonl"
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")  # fourteen hours ahead
    with Counter("text-volts", tmp_path) as meter, start_capture(path, meter):
        wait_until(lambda: counted(path, 0) > 3, "first readings")
    assert abs(read_recording(path).start - datetime.now(UTC)) < timedelta(minutes=5)


def record_here(path: Path, clock: _Wall, sleeps_ns: Sequence[int], readings: int) -> None:
    """Record within this process by a clock of the test's.

    Args:
        path: the recording.
        clock: it is set on by each sleep.
        sleeps_ns: the count of sleep, one after the other; after each of them comes what is given next.
        readings: so many more, at least.
    """
    slept_ns, began = 0, clock.ahead

    async def record(address: str, status: StatusWriter) -> None:
        nonlocal slept_ns
        wanted = spec(path, ("text-volts", address))
        capture = Capture(wanted, load_registry(), clock, status, asleep=lambda: slept_ns)
        run = asyncio.create_task(capture.run())
        async with asyncio.timeout(40):
            for slept_ns in sleeps_ns:
                clock.ahead = began + timedelta(microseconds=slept_ns // 1000)
                before = counted(path, 0)
                while counted(path, 0) < before + readings:  # noqa: ASYNC110 - the file sets no event of this loop
                    await asyncio.sleep(0.05)
            capture.stop("enough")
            assert await run

    with open(os.devnull, "wb") as nowhere, Counter("text-volts", path.parent) as meter:
        asyncio.run(record(meter.address, StatusWriter(nowhere.fileno())))


def test_a_sleep_is_told_and_no_reading_after_it_is_a_neighbour_of_one_before(tmp_path: Path) -> None:
    """The count of sleep is injected here: nothing but a sleep of the whole computer moves the real one."""
    path, clock = tmp_path / "run.jsonl", _Wall()
    record_here(path, clock, (0, 5_400_000_000_000), 50)
    recording = read_recording(path)
    assert recording.complete
    (event,) = recording.events
    assert event.text.startswith("The computer slept for 90 min: nothing was recorded meanwhile")
    column = recording.columns(0)
    (lost,) = (column.quality == int(Quality.LOST)).nonzero()[0].tolist()
    assert 0 < lost < len(column.quality) - 1
    (look,) = recording.clocks
    ninety_minutes = timedelta(minutes=90)
    for t_ns, later in ((0, timedelta(0)), (look.t_ns - 1, timedelta(0)), (look.t_ns, ninety_minutes)):
        shown = recording.wall_clock.utc(t_ns)
        assert shown is not None
        ran_on = recording.start + timedelta(microseconds=t_ns // 1000)
        assert abs(shown - ran_on - later) < timedelta(seconds=1), t_ns


def test_a_run_under_a_clock_beyond_its_time_is_recorded_and_opens(tmp_path: Path) -> None:
    """Such as that of a computer whose battery is flat: it may show the year 2238, of which no date is believed."""
    path, clock = tmp_path / "run.jsonl", _Wall()
    clock.ahead = timedelta(days=80_000)
    record_here(path, clock, (0,), 10)
    recording = read_recording(path)
    assert recording.complete
    assert not recording.start_known


class _Wall(SystemClock):
    """A wall clock that a test sets."""

    def __init__(self) -> None:
        self.ahead = timedelta(0)

    def utc(self) -> datetime:
        return super().utc() + self.ahead


def test_slewing_is_no_jump_and_a_second_is_one() -> None:
    clock = _Wall()
    watch = ClockWatch(clock, lambda: 0)
    for _ in range(20):
        clock.ahead += timedelta(seconds=0.5)
        assert watch.check() is None
    clock.ahead -= timedelta(seconds=61.5)
    jump = watch.check()
    assert jump is not None
    assert not jump.slept
    assert "set back by 61.5 s" in jump.text
    assert watch.check() is None


def test_a_clock_that_is_set_far_is_told_in_days_and_one_without_a_date_by_what_it_showed() -> None:
    class Still(ManualClock):
        ahead = timedelta(0)

        def utc(self) -> datetime:
            return super().utc() + self.ahead

    clock = Still(utc=datetime(2026, 3, 14, 9, tzinfo=UTC))
    watch = ClockWatch(clock, lambda: 0)
    told = []
    for days in (400, 0, -20_000, -19_000, 0):
        clock.ahead = timedelta(days=days)
        jump = watch.check()
        assert jump is not None
        told.append(jump.text.partition("; the times of the readings")[0])
    assert told == [
        "The computer's clock was set forward by 400 days",
        "The computer's clock was set back by 400 days",
        "The computer's clock was set back by 20000 days",
        "The computer's clock was set forward by 1000 days",
        "The computer's clock was set to 2026-03-14 09:00 UTC; it had shown 1974-03-07, which is no date of a run",
    ]


def test_a_computer_that_is_busy_between_two_looks_is_no_jump() -> None:
    class Busy(_Wall):
        """Each second look at the clock comes seconds late, once."""

        def __init__(self) -> None:
            super().__init__()
            self.looks = 0

        def utc(self) -> datetime:
            now = super().utc()
            self.looks += 1
            if self.looks == 2:
                self.late_ns += 3_000_000_000
                self.ahead += timedelta(seconds=3)
            return now

        late_ns = 0

        def now_ns(self) -> int:
            return super().now_ns() + self.late_ns

    clock = Busy()
    watch = ClockWatch(clock, lambda: 0)
    assert watch.check() is None
    assert clock.looks == 3


_IN_ANOTHER_TIME = ["unshare", "--time", "--boottime", "5400", "--fork"]
"""A time namespace, in which the clock that goes on in sleep is ahead and the monotonic one is not."""


def _may_unshare() -> bool:
    try:
        return subprocess.run([*_IN_ANOTHER_TIME, "true"], capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        return False


@pytest.mark.skipif(not _may_unshare(), reason="a time namespace needs root on Linux")
def test_the_count_of_sleep_is_what_the_systems_two_clocks_differ_by() -> None:
    command = [sys.executable, "-c", "from daq.model.clock import asleep_ns; print(asleep_ns())"]
    here, there = (
        int(subprocess.run([*before, *command], capture_output=True, text=True, check=True).stdout)
        for before in ([], _IN_ANOTHER_TIME)
    )
    assert (there - here) / 1e9 == pytest.approx(5400, abs=1.0)
