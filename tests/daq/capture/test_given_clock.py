"""A capture that is started by another command runs on the clock which that gives it."""

from __future__ import annotations

import time
from pathlib import Path

from daq.capture.launch import CaptureProcess
from tests.benchmarks import fast_capture
from tests.benchmarks.pace import Pace
from tests.daq.capture.runs import VOLTS, eventually, of_channel, spec
from tests.drivers.peers import PtyPeer


def test_stamps_pass_as_fast_as_the_clock_that_is_given(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter:
        wanted = spec(path, ("text-volts", meter.address), patient=True)
        with CaptureProcess.start(
            wanted, command=fast_capture.command(Pace(time.monotonic_ns(), 1000.0, 0.0, ()))
        ) as capture:
            eventually(lambda: len(of_channel(path, 0)) > 1)
            capture.stop()
            capture.wait(30)
    times_s = [row[1] / 1e9 for row in of_channel(path, 0)]
    assert times_s[-1] - times_s[0] > 1000 * VOLTS.period_s * 0.5
