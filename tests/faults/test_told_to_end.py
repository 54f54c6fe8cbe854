"""A dashboard whose terminal takes nothing any more is told to end: the first time in good order, then at once."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import pytest

from daq.recording.reader import read_recording
from tests.faults.rig import counted, counters, readings_lost, seen_in, wait_until
from tests.faults.terminal import Terminal


def _takes_sigterm(pid: int) -> bool:
    """Whether the process has a handler for it."""
    (caught,) = [
        line for line in Path(f"/proc/{pid}/status").read_text().splitlines() if line.startswith("SigCgt")
    ]
    return bool(int(caught.split()[1], 16) & 1 << (signal.SIGTERM - 1))


@pytest.mark.skipif(
    sys.platform != "linux", reason="looks at another process's handlers, which only Linux shows"
)
def test_a_second_sigterm_ends_a_dashboard_whose_terminal_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with counters(tmp_path) as instruments:
        named = [word for one in instruments for word in ("-i", f"{one.card}@{one.address}")]
        with Terminal(tmp_path, "run", *named, "--out", str(path)) as terminal:
            wait_until(lambda: terminal.read > 4000 and counted(path, 1) > 20, "first picture")
            terminal.stop_reading()
            seen = counted(path, 1)
            wait_until(lambda: counted(path, 1) > seen + 150, "it has shown more than the terminal takes")
            terminal.process.send_signal(signal.SIGTERM)
            wait_until(lambda: not _takes_sigterm(terminal.process.pid), "it was told")
            terminal.process.send_signal(signal.SIGTERM)
            assert terminal.process.wait(20) == -signal.SIGTERM
        wait_until(
            lambda: read_recording(path).close is not None, "the capture closes the recording by itself"
        )
    assert read_recording(path).problems == []
    assert [readings_lost(seen_in(path, channel)) for channel in (0, 1)] == [0, 0]
