"""The parent's side of a capture that does not end as it should, with a stand-in that behaves as each case wants."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from daq.capture.held import LONG_S, HeldBack
from daq.capture.launch import CaptureProcess
from daq.capture.spec import Closed, Closing, Failed, RecordingMoved, Resumed, Stalled, Status
from daq.errors import SpinvoltError
from daq.model.clock import ManualClock
from tests.daq.capture.runs import eventually, spec

OPENS_NO_TERMINAL = True
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="ends processes by signals")

_BEGINS = """
import json, os, signal, sys, time
def say(event, **more):
    print(json.dumps({"event": event, **more}), flush=True)
sys.stdin.readline()
say("recording", path="run.jsonl")
"""
_INPUT_ENDS = "sys.stdin.read()\n"
_HANGS = "signal.signal(signal.SIGTERM, signal.SIG_IGN)\nsay('resumed', text='set')\ntime.sleep(600)\n"
_CLOSES = "say('closed', reason='done', readings=7)\n"


def stand_in(folder: Path, does: str) -> CaptureProcess:
    """A capture that says its recording is open, and then does that."""
    return CaptureProcess.start(
        spec(folder / "run.jsonl", ("text-volts", "nowhere")),
        command=[sys.executable, "-S", "-c", _BEGINS + does],
    )


def until_let(folder: Path) -> str:
    """Waits as for a disk that takes nothing, until the test lets it go on."""
    return f"while not os.path.exists({str(folder / 'let')!r}):\n    time.sleep(0.02)\n"


def said(capture: CaptureProcess, kind: type[Status]) -> bool:
    return any(isinstance(status, kind) for status in capture.poll_status())


def test_one_that_takes_its_time_to_close_is_waited_for(tmp_path: Path) -> None:
    with stand_in(tmp_path, f"{_INPUT_ENDS}time.sleep(0.8)\n{_CLOSES}") as capture:
        capture.close()
    assert capture.wait(0) == Closed("done", 7)


def test_one_that_is_hung_and_holds_nothing_is_ended(tmp_path: Path) -> None:
    capture = stand_in(tmp_path, _HANGS)
    eventually(lambda: said(capture, Resumed))  # by then it takes no SIGTERM
    capture.close(0.1)
    assert not capture.running
    with pytest.raises(
        SpinvoltError, match=r"^The part of the program that records was ended .* \(signal 9\)\.$"
    ):
        capture.wait(0)


def test_one_that_closes_its_recording_is_left_and_ends_by_itself(tmp_path: Path) -> None:
    capture = stand_in(tmp_path, f"{_INPUT_ENDS}say('closing')\n{until_let(tmp_path)}{_CLOSES}")
    capture._close_input()
    eventually(lambda: said(capture, Closing))
    capture.close(0.1)
    assert capture.holds
    (tmp_path / "let").touch()
    eventually(lambda: not (capture.running or capture.holds))
    assert capture.wait(0) == Closed("done", 7)
    assert not Path(f"/proc/{capture.pid}").exists(), "no zombie is left"


def test_one_whose_disk_takes_nothing_is_left_although_it_does_not_answer(tmp_path: Path) -> None:
    capture = stand_in(tmp_path, f"say('stalled', text='full')\n{until_let(tmp_path)}{_CLOSES}")
    eventually(lambda: said(capture, Stalled))
    capture.close(0.1)
    assert capture.holds
    (tmp_path / "let").touch()
    eventually(lambda: not capture.running)
    assert capture.wait(0) == Closed("done", 7)


def test_one_that_has_closed_its_recording_and_does_not_end_is_ended_with_no_complaint(
    tmp_path: Path,
) -> None:
    capture = stand_in(tmp_path, f"say('closing')\n{_CLOSES}time.sleep(600)\n")
    eventually(lambda: capture.ended)
    assert not capture.holds
    assert capture.wait(0) == Closed("done", 7)
    assert not capture.running


def ended(folder: Path, does: str) -> str:
    """What is said of one that does that."""
    with stand_in(folder, does) as capture, pytest.raises(SpinvoltError) as told:
        capture.wait(20)
    return str(told.value)


def test_what_one_that_was_ended_from_outside_had_held_is_said_to_be_lost(tmp_path: Path) -> None:
    killed = "os.kill(os.getpid(), signal.SIGKILL)\n"
    plain = "The part of the program that records was ended from outside (signal 9)."
    assert ended(tmp_path, killed) == plain
    told = ended(tmp_path, f"say('stalled', text='full')\n{killed}")
    assert re.fullmatch(
        rf"{re.escape(plain)} The disk had taken nothing(?: for at least \d+ s)? by then: the readings that were "
        r"held in memory alone are lost\.",
        told,
    ), told
    assert ended(tmp_path, f"say('stalled', text='full')\nsay('resumed', text='room')\n{killed}") == plain


def test_one_that_ends_by_itself_is_told_with_what_it_said(tmp_path: Path) -> None:
    assert ended(tmp_path, "os._exit(3)\n") == (
        "The part of the program that records ended and did not say why (exit status 3)."
    )
    assert ended(tmp_path, "sys.exit('no memory')\n").endswith("(exit status 1): no memory.")
    assert "met a fault of its own (signal 6)" in ended(tmp_path, "os.kill(os.getpid(), signal.SIGABRT)\n")


def test_what_is_held_is_known_by_what_the_capture_says() -> None:
    clock = ManualClock()
    held = HeldBack(clock)
    assert (held.something, held.behind, held.for_s) == (False, False, 0.0)
    held.take(Stalled("full"))
    clock.advance(5.0)
    held.take(Stalled("full"))
    assert (held.something, held.behind, held.late, held.for_s) == (True, True, False, 5.0)
    held.take(Closing())
    assert (held.late, held.for_s) == (True, 5.0)
    held.ended()
    clock.advance(5.0)
    assert held.for_s == 5.0


@pytest.mark.parametrize(
    "word", [Resumed("room"), RecordingMoved("b", "moved"), Closed("done", 1), Failed("no")]
)
def test_it_is_over_with_any_of_these(word: Status) -> None:
    held = HeldBack(ManualClock())
    held.take(Stalled("full"))
    held.take(word)
    assert not held.something


def test_a_close_that_takes_long_waits_for_the_disk() -> None:
    clock = ManualClock()
    held = HeldBack(clock)
    held.take(Closing())
    assert (held.something, held.behind) == (True, False)
    clock.advance(LONG_S)
    assert held.late
