"""A run that is ended while its drive takes nothing: what is held is kept, and the capture closes it by itself."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from pathlib import Path

import pytest

from daq.recording.reader import read_recording
from tests.faults.drives import WHY_NOT, may_mount, stalling_drive
from tests.faults.rig import Counter, counted, counters, readings_lost, seen_in, wait_until
from tests.tui.program import start
from tests.tui.test_terminal import descendants

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
            wait_until(lambda: counted(path, 1) > 20, "first readings")
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
