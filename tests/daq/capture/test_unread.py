"""A parent that reads nothing of what its capture says: the pipe is full soon, and the readings go on."""

from __future__ import annotations

import fcntl
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest

from tests.daq.capture.runs import VOLTS, eventually, of_channel, spec
from tests.drivers.peers import PtyPeer


@pytest.mark.skipif(sys.platform != "linux", reason="makes a pipe small, which only Linux can")
def test_statuses_that_nobody_reads_never_hold_the_readings_up(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with (
        PtyPeer(VOLTS) as meter,
        subprocess.Popen(
            [sys.executable, "-P", "-m", "daq.capture"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        ) as process,
    ):
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            room = fcntl.fcntl(process.stdout, fcntl.F_SETPIPE_SZ, 4096)
            wanted = spec(path, ("text-volts", meter.address), ("keyboard-pair", "keyboard"))
            process.stdin.write(msgspec.json.encode(wanted) + b"\n")
            process.stdin.flush()
            eventually(lambda: path.exists() and len(of_channel(path, 0)) > 3)
            # Each line typed is answered with one that is longer.
            line = b'{"do":"key","instrument":"keyboard","line":"neither volts nor a speed"}\n'
            process.stdin.write(line * (2 * room // len(line)))
            process.stdin.flush()
            before = len(of_channel(path, 0))
            eventually(lambda: len(of_channel(path, 0)) > before + 20)
            process.stdin.close()
            assert process.wait(20) == 0
        finally:
            process.kill()
    assert b'"close"' in path.read_bytes().splitlines()[-1]
