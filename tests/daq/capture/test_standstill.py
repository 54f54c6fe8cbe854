"""A capture that is halted says so of itself, and blames no instrument for what it did not hear."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.pipes import StatusWriter
from daq.capture.program import Capture
from daq.capture.standstill import StandstillWatch
from daq.capture.watch import Health, Watch
from daq.model.clock import ManualClock
from daq.recording.entries import EventEntry
from daq.registry import load_registry
from daq.run.recorded import open_recording
from tests.daq.capture.runs import SPEED, VOLTS, events, eventually, of_channel, quiet, spec
from tests.daq.capture.test_watch import BAD, CARD, GOOD, S, status
from tests.drivers.peers import Behaviour, PtyPeer

STOOD_S = 2.5
SILENT_AFTER_S = 2.0
"""Less than the halt, or it could blame nobody; more than a busy machine holds a sender up."""


def late_s(*after_s: float) -> list[float | None]:
    """What each look says that comes so long after the one before; each is due after 0.2 s."""
    clock = ManualClock(5 * S)
    watch = StandstillWatch(lambda: clock.now_ns() / 1e9)
    found = []
    for seconds in after_s:
        watch.next_after(0.2)
        clock.advance(seconds)
        found.append(watch.check())
    return found


def test_a_look_that_comes_when_it_is_due_or_a_little_late_is_none() -> None:
    assert late_s(0.2, 0.9, 2.19, 0.0, 0.2) == [None] * 5


def test_a_late_look_is_told_once_with_how_late_it_was() -> None:
    assert late_s(0.2, 10.0, 0.2, 2.3) == [None, pytest.approx(9.8), None, pytest.approx(2.1)]


def test_silence_is_counted_anew_after_a_standstill() -> None:
    watch = Watch("text-volts", "/dev/ttyUSB0", CARD, 0)
    watch.nobody_listened(11 * S)
    assert watch.check(status(), 16 * S - 1) is None
    found = watch.check(status(), 16 * S)
    assert found is not None
    assert found.health is Health.SILENT


def test_what_was_silent_before_a_standstill_was_so_all_the_time() -> None:
    watch = Watch("text-volts", "/dev/ttyUSB0", CARD, 0)
    assert watch.check(status(), 5 * S) is not None
    watch.nobody_listened(15 * S)
    back = watch.readings(GOOD, status(8), 16 * S)
    assert back is not None
    assert back.text.endswith("after 16.0 s.")


def test_junk_before_a_standstill_is_still_junk_after_it() -> None:
    watch = Watch("text-volts", "/dev/ttyUSB0", CARD, 0)
    watch.readings(BAD, status(5), 1 * S)
    watch.nobody_listened(11 * S)
    found = watch.check(status(5), 16 * S)
    assert found is not None
    assert found.health is Health.JUNK


@pytest.mark.parametrize(("slept_ns", "kinds"), [(0, ["standstill"]), (9 * S, ["note"])])
def test_a_computer_that_slept_is_told_of_once(slept_ns: int, kinds: list[str], tmp_path: Path) -> None:
    told: list[str] = []
    slept = iter([0, slept_ns])
    with open(os.devnull, "wb") as nowhere, PtyPeer(VOLTS) as meter:
        wanted = spec(tmp_path / "run.jsonl", ("text-volts", meter.address))
        status_writer = StatusWriter(nowhere.fileno())
        capture = Capture(wanted, load_registry(), ManualClock(), status_writer, asleep=lambda: next(slept))
        capture._put = lambda lines: told.extend(  # type: ignore[method-assign]  # what goes into the recording
            line.kind for line in lines if isinstance(line, EventEntry)
        )
        capture._look(9.0)
    assert told == kinds


@pytest.mark.skipif(sys.platform == "win32", reason="no process can be halted by a signal on Windows")
def test_a_capture_that_is_halted_tells_it_once_and_blames_nobody(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter, PtyPeer(SPEED) as tach, PtyPeer(Behaviour()) as mute:
        wanted = spec(
            path,
            quiet("text-volts", meter.address, SILENT_AFTER_S),
            quiet("text-speed", tach.address, SILENT_AFTER_S),
            quiet("text-volts", mute.address),
        )
        with CaptureProcess.start(wanted) as capture:
            eventually(lambda: len(events(path, "silent")) == 1 and len(of_channel(path, 1)) > 3)
            halted_s = time.monotonic()
            os.kill(capture.pid, signal.SIGSTOP)
            time.sleep(STOOD_S)
            before = len(of_channel(path, 0))
            os.kill(capture.pid, signal.SIGCONT)
            eventually(lambda: len(events(path, "standstill")) > 0)
            halted_s = time.monotonic() - halted_s
            # Who is blamed for the halt is so at the first looks after it; there are several meanwhile.
            eventually(lambda: len(of_channel(path, 0)) > before + 70)
            capture.stop()
            capture.wait(30)
    told, *more = events(path, "standstill")
    assert "instrument" not in told or told["instrument"] is None
    stood_s = float(told["text"].split(" s: ")[0].rsplit(" ", 1)[1])
    assert STOOD_S - 0.3 < stood_s < halted_s + 0.1
    # A busy machine may halt it once more; the same halt told twice would stand closer.
    assert all(after["t_ns"] - told["t_ns"] > 1.9 * S for after in more)
    assert [event["instrument"] for event in events(path, "silent")] == ["text-volts-2"], "as before the halt"
    assert events(path, "stall") == events(path, "link_back") == []
    assert told["text"] in open_recording(path).result().reasons
