"""The end of a capture as each command waits for it, with a stand-in that takes as long as the case wants."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, cast

import pytest

from daq.capture.launch import CaptureProcess
from daq.errors import SpinvoltError
from tests.daq.capture.runs import eventually
from tests.daq.capture.test_launch import stand_in, until_let
from tui import capturecontrol, closing
from tui.capturecontrol import CaptureControl
from tui.closing import StillClosing, close_capture, stopped_words

if TYPE_CHECKING:
    from tui.ownsource import OwnSource

OPENS_NO_TERMINAL = True
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="ends processes by signals")

_CLOSED = "say('closed', reason='done', readings=7)\n"
_ASKED = "sys.stdin.readline()\n"


class Told:
    """Closes a capture and keeps what was told meanwhile."""

    def __init__(self, capture: CaptureProcess, path: Path) -> None:
        self.words: list[str] = []
        self._capture = capture
        self._path = path

    def close(self) -> None:
        close_capture(self._capture, lambda: self._path, self.words.append)


@pytest.fixture
def told_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first word comes soon, so that the test is quick."""
    monkeypatch.setattr(closing, "LONG_S", 0.2)


@pytest.mark.usefixtures("told_soon")
def test_a_disk_that_takes_the_rest_a_little_later_is_told_and_waited_for(tmp_path: Path) -> None:
    with stand_in(tmp_path, f"{_ASKED}say('closing')\ntime.sleep(1.0)\n{_CLOSED}") as capture:
        told = Told(capture, tmp_path / "run.jsonl")
        told.close()
    assert told.words == [
        "The disk has not taken the rest of run.jsonl for more than 0.2 s; waiting for it. Ctrl-C leaves, and the "
        "recording is then closed without you as soon as the disk takes it."
    ]


@pytest.mark.usefixtures("told_soon")
def test_one_that_is_only_slow_is_waited_for_without_a_word(tmp_path: Path) -> None:
    with stand_in(tmp_path, f"{_ASKED}time.sleep(1.0)\n{_CLOSED}") as capture:
        told = Told(capture, tmp_path / "run.jsonl")
        told.close()
    assert told.words == []


def test_one_that_closes_at_once_is_told_of_with_no_word(tmp_path: Path) -> None:
    with stand_in(tmp_path, f"{_ASKED}say('closing')\n{_CLOSED}") as capture:
        told = Told(capture, tmp_path / "run.jsonl")
        told.close()
    assert told.words == []


@pytest.mark.usefixtures("told_soon")
def test_where_patience_ends_it_is_left_to_close_by_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(closing, "_END_WITHIN_S", 0.2)
    path = tmp_path / "run.jsonl"
    capture = stand_in(tmp_path, f"{_ASKED}say('closing')\n{until_let(tmp_path)}{_CLOSED}")
    with pytest.raises(StillClosing) as raised:
        Told(capture, path).close()
    assert re.sub(r"\d+ s\b", "N s", str(raised.value)) == (
        "run.jsonl is not closed yet: the disk has not taken the rest of it for N s. The part of the program that "
        "records goes on by itself, holds the rest in memory and closes the recording as soon as the disk takes it: "
        "leave the computer on and the disk where it is. What the disk refuses for good is put into run-rest.jsonl in "
        f"your home folder. The recording is {path}."
    )
    assert capture.running
    (tmp_path / "let").touch()
    eventually(lambda: not capture.running)
    assert capture.wait(0).readings == 7


@pytest.mark.usefixtures("told_soon")
def test_one_that_does_not_answer_and_holds_nothing_is_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(closing, "_END_WITHIN_S", 0.2)
    monkeypatch.setattr(closing, "_FORCED_AFTER_S", 0.1)
    capture = stand_in(tmp_path, "time.sleep(600)\n")
    with pytest.raises(SpinvoltError, match=r"did not answer any more and was ended\.$"):
        Told(capture, tmp_path / "run.jsonl").close()
    assert not capture.running


def test_who_does_not_wait_is_told_what_is_known(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "run.jsonl"
    capture = stand_in(tmp_path, f"{_ASKED}say('closing')\n{until_let(tmp_path)}{_CLOSED}")
    assert stopped_words(capture, path) == "Stopped before it was done."
    assert stopped_words(capture, path, told=True) == (
        f"Stopped before it was done; the recording is in {path}, and is being closed."
    )
    monkeypatch.setattr(closing, "_WORTH_TELLING_S", 0.0)
    capture.stop()
    eventually(lambda: capture.holds)
    assert stopped_words(capture, path).startswith(
        "Stopped before it was done. run.jsonl is not closed yet: "
    )
    (tmp_path / "let").touch()
    assert capture.wait(20).readings == 7
    assert stopped_words(capture, path, told=True) == (
        f"Stopped before it was done; the recording is in {path}."
    )


class Source:
    """Knows the recording's name, which is all that the control asks of it."""

    path = Path("run.jsonl")


def test_the_screens_control_says_what_the_disk_does_before_and_after_the_end_was_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(capturecontrol, "LONG_S", 0.0)
    capture = stand_in(tmp_path, f"say('stalled', text='full')\n{until_let(tmp_path)}{_CLOSED}")
    control = CaptureControl(capture, cast("OwnSource", Source()))
    eventually(lambda: control.warning() == "full")
    monkeypatch.setattr(capturecontrol, "LONG_S", 1000.0)
    control.stop()
    assert control.warning() == "full", "instruments are not called silent meanwhile"
    monkeypatch.setattr(capturecontrol, "LONG_S", 0.0)
    assert control.warning().startswith("The disk has not taken the rest of run.jsonl for more than")
    (tmp_path / "let").touch()
    capture.wait(20)
