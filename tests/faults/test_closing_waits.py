"""A run that is ended while its drive takes nothing: what is held is kept, and the capture closes it by itself."""

from __future__ import annotations

import os
import shlex
import signal
import subprocess
import threading
import time
from pathlib import Path

import pytest

from daq.recording.reader import read_recording
from tests.daq.capture.runs import spec
from tests.faults.drives import WHY_NOT, may_mount, stalling_drive
from tests.faults.rig import Counter, counted, counters, last_line, readings_lost, seen_in, wait_until
from tests.tui.program import COMMAND, start
from tests.tui.test_terminal import Tmux, descendants, tmux
from tui import closing
from tui.session import LiveSession

__all__ = ["tmux"]  # a fixture

pytestmark = pytest.mark.skipif(not may_mount(), reason=WHY_NOT)

_ON_THE_WAY_NS = 300_000_000


def _run(path: Path, instruments: tuple[Counter, ...], *more: str) -> list[str]:
    named = [word for one in instruments for word in ("-i", f"{one.card}@{one.address}")]
    return ["run", *named, "--out", str(path), *more]


def _said(process: subprocess.Popen[str], words: str) -> None:
    assert process.stdout is not None
    while words not in (line := process.stdout.readline()):
        assert line, f"it ended without saying: {words}"


def _nothing_is_missing(path: Path, instruments: tuple[Counter, ...], asked_ns: int) -> None:
    recording = read_recording(path)
    assert recording.problems == []
    assert recording.close is not None
    for channel, instrument in enumerate(instruments):
        seen = seen_in(path, channel)
        numbers, sent_ns = instrument.sent()
        assert readings_lost(seen) == 0
        missing = (numbers > seen.numbers[-1]) & (sent_ns < asked_ns - _ON_THE_WAY_NS)
        assert int(missing.sum()) == 0


def test_ctrl_c_twice_leaves_a_capture_that_its_drive_keeps_waiting(tmp_path: Path) -> None:
    with stalling_drive(tmp_path) as drive, counters(tmp_path) as instruments:
        path = drive.place / "run.jsonl"
        with start(*_run(path, instruments, "--headless"), folder=tmp_path) as process:
            _said(process, " rpm")  # from here on it takes Ctrl-C itself
            capture = descendants(str(process.pid))[1]
            with drive.stalled():
                asked_ns = time.monotonic_ns()
                process.send_signal(signal.SIGINT)
                _said(process, "Ctrl-C leaves, and the recording is then closed without you")
                process.send_signal(signal.SIGINT)
                _, err = process.communicate(timeout=40)
                os.kill(capture, 0)
            wait_until(lambda: not Path(f"/proc/{capture}").exists(), "the capture ends by itself")
        assert process.returncode == 1
        said = " ".join(err.split())
        assert said.startswith(
            "Stopped before it was done. run.jsonl is not closed yet: the disk has not taken the"
        )
        assert "run-rest.jsonl in your home folder" in said
        assert str(path) in said
        _nothing_is_missing(path, instruments, asked_ns)


def test_q_on_the_dashboard_leaves_it_too_where_nobody_waits(tmp_path: Path, tmux: Tmux) -> None:
    with stalling_drive(tmp_path) as drive, counters(tmp_path) as instruments:
        path = drive.place / "run.jsonl"
        tmux.start(f"{shlex.join([*COMMAND, *_run(path, instruments)])}; echo status $?; cat")
        wait_until(lambda: counted(path, 1) > 20, "first readings")
        tmux.wait_for("● recording")
        (capture,) = [
            pid for pid in descendants(tmux("list-panes", "-F", "#{pane_pid}").strip()) if _captures(pid)
        ]
        with drive.stalled():
            asked_ns = time.monotonic_ns()
            tmux.keys("q")
            said = tmux.wait_for("The disk has not taken the rest of run.jsonl")
            assert "● recording" in said, "the dashboard says it"
            tmux.keys("q")
            while "● recording" in tmux.wait_for("The disk has not taken the rest of run.jsonl"):
                time.sleep(0.05)
            tmux.keys("C-c")
            said = " ".join(tmux.wait_for("status 1").split())
            assert "Stopped before it was done. run.jsonl is not closed yet" in said
            assert _captures(capture)
        wait_until(lambda: not _captures(capture), "the capture ends by itself")
        _nothing_is_missing(path, instruments, asked_ns)


def _captures(pid: int) -> bool:
    try:
        return b"daq.capture" in Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return False


def test_a_run_of_the_dashboard_that_can_not_be_closed_yet_is_told_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(closing, "LONG_S", 0.1)
    monkeypatch.setattr(closing, "_END_WITHIN_S", 0.1)
    with stalling_drive(tmp_path) as drive, counters(tmp_path) as instruments:
        path = drive.place / "run.jsonl"
        session = LiveSession(spec(path, *((one.card, one.address) for one in instruments)))
        session.feed.start()
        wait_until(lambda: counted(path, 1) > 20, "first readings")
        with drive.stalled():
            asked_ns = time.monotonic_ns()
            end = session.close()
        assert (end.path, end.closed, end.closing) == (path, False, True)
        assert end.trouble.startswith("run.jsonl is not closed yet: ")
        wait_until(
            lambda: last_line(path) is not None and read_recording(path).close is not None, "it is closed"
        )
        wait_until(
            lambda: "capture left alone" not in {each.name for each in threading.enumerate()}, "its end"
        )
        _nothing_is_missing(path, instruments, asked_ns)
