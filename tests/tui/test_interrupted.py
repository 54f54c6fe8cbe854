"""Control-C more than once: the command ends at once, and says where the recording lies."""

from __future__ import annotations

import json
import signal
import sys
import time
from pathlib import Path

import pytest

from tests.tui.program import start


def _closed(path: Path) -> bool:
    lines = path.read_bytes().splitlines() if path.exists() else []
    return bool(lines) and lines[-1].startswith(b"{") and json.loads(lines[-1])["entry"] == "close"


def _wait_for_a_reading(path: Path) -> None:
    end = time.monotonic() + 20.0
    while not (path.exists() and b"\n[" in path.read_bytes()):
        assert time.monotonic() < end, "the run did not begin"
        time.sleep(0.05)


@pytest.mark.skipif(sys.platform == "win32", reason="sends SIGINT to one process")
def test_three_in_a_row_end_a_run_and_say_where_its_recording_lies(tmp_path: Path) -> None:
    path = tmp_path / "the run.jsonl"
    with start("demo", "--headless", "--out", str(path), folder=tmp_path) as process:
        try:
            _wait_for_a_reading(path)
            for _ in range(3):
                process.send_signal(signal.SIGINT)
                time.sleep(0.02)
            _, err = process.communicate(timeout=20.0)
        except BaseException:
            process.kill()
            raise
    assert process.returncode == 1
    assert " ".join(err.split()) == f"Stopped before it was done; the recording is in {path}."
    end = time.monotonic() + 5.0
    while not _closed(path):
        assert time.monotonic() < end, "the recording was not closed"
        time.sleep(0.05)
