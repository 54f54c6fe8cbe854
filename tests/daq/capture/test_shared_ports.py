"""One serial port named for two instruments of one run."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.shared_ports import refuse_shared_ports
from daq.errors import UsageError
from tests.daq.capture.runs import VOLTS, spec
from tests.drivers.peers import PtyPeer


def test_a_capture_says_that_it_was_given_one_port_twice(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as peer:
        wanted = spec(path, ("text-volts", peer.address), ("text-speed", peer.address))
        with pytest.raises(UsageError) as caught:
            CaptureProcess.start(wanted)
        told = str(caught.value)
    assert told.startswith(
        f"Port {peer.address} is named twice in this run, for text-volts and for text-speed"
    )
    assert not path.exists()


def test_the_command_ends_with_the_status_of_wrong_usage(tmp_path: Path) -> None:
    with PtyPeer(VOLTS) as peer:
        done = subprocess.run(
            [
                *(sys.executable, "-m", "tui", "run", "--headless", "--seconds", "1"),
                *("-i", f"text-volts@{peer.address}", "-i", f"text-speed@{peer.address}"),
                *("--out", str(tmp_path / "run.jsonl")),
            ],
            capture_output=True,
            text=True,
            timeout=30,
            check=False,
        )
    assert done.returncode == 2, done.stderr
    assert "is named twice in this run" in done.stderr


def test_two_names_of_one_port_are_one_port(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"COM3 \(the same port as com3\)"):
        refuse_shared_ports([("text-volts", "com3"), ("text-speed", "COM3")])
    with pytest.raises(UsageError, match="the same port as /dev/../dev/null"):
        refuse_shared_ports([("text-volts", "/dev/../dev/null"), ("text-speed", "/dev/null")])


def test_ports_of_their_own_and_what_is_no_port_are_let_pass() -> None:
    refuse_shared_ports([("text-volts", "/dev/ttyUSB0"), ("text-speed", "/dev/ttyUSB1")])
    refuse_shared_ports([("keyboard-pair", "keyboard"), ("keyboard-pair", "keyboard")])
    refuse_shared_ports([("ble-volts", "ble:C4:11:5E:00:00:01"), ("ble-speed", "ble:C4:11:5E:00:00:01")])
