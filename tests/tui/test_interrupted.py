"""Control-C more than once: the command ends at once, and says where the recording lies."""

from __future__ import annotations

import json
import signal
import sys
import time
from pathlib import Path

import pytest

from daq.capture.launch import CaptureProcess
from daq.errors import SpinvoltError
from tests.tui.program import interrupt, start
from tui.ownsource import OwnSource
from tui.recordrun import record_run
from tui.runspec import make_spec


def _closed(path: Path) -> bool:
    lines = path.read_bytes().splitlines() if path.exists() else []
    return bool(lines) and lines[-1].startswith(b"{") and json.loads(lines[-1])["entry"] == "close"


def _wait_for_a_reading(path: Path) -> None:
    end = time.monotonic() + 30.0
    while not (path.exists() and b"\n[" in path.read_bytes()):
        assert time.monotonic() < end, "the run did not begin"
        time.sleep(0.05)


@pytest.mark.skipif(sys.platform == "win32", reason="sends SIGINT to one process")
def test_three_in_a_row_end_a_run_and_say_where_its_recording_lies(tmp_path: Path) -> None:
    path = tmp_path / "the run.jsonl"
    with start("demo", "--headless", "--out", str(path), folder=tmp_path) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline(), "it follows its run, and takes Ctrl-C itself from here on"
            _wait_for_a_reading(path)
            for _ in range(3):
                interrupt(process)
                time.sleep(0.02)
            _, err = process.communicate(timeout=40.0)
        except BaseException:
            process.kill()
            raise
    assert process.returncode == 1
    told = f"Stopped before it was done; the recording is in {path}"
    assert " ".join(err.split()) in (f"{told}.", f"{told}, and is being closed.")
    end = time.monotonic() + 30.0
    while not _closed(path):
        assert time.monotonic() < end, "the recording was not closed"
        time.sleep(0.05)


def test_one_that_comes_before_anything_is_shown_says_so_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(_: OwnSource, capture: CaptureProcess) -> None:
        capture.key("24.6 3600")  # a run without a reading would leave no recording
        _wait_for_a_reading(path)
        signal.raise_signal(signal.SIGINT)

    usual = signal.signal(signal.SIGINT, signal.default_int_handler)
    monkeypatch.setattr(OwnSource, "__init__", interrupted)
    path = tmp_path / "run.jsonl"
    typed = [("keyboard-pair", "keyboard")]
    spec = make_spec(path, typed, machine=None, seconds=None, force=False, source="run")
    try:
        with pytest.raises(SpinvoltError, match=rf"done; the recording is in \S*{path.name}\.$"):
            record_run(spec, headless=True, plain=False)
    finally:
        signal.signal(signal.SIGINT, usual)
    assert _closed(path)
