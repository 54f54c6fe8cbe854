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


def test_a_link_elsewhere_is_the_port_it_leads_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Links of one's own making, such as one named for the instrument, beside the port itself or each other."""
    for name in ("volts", "speed", "unplugged", "gone"):
        (tmp_path / name).symlink_to("/dev/null" if name in ("volts", "speed") else "/dev/ttyUSB77")
    volts, speed = str(tmp_path / "volts"), str(tmp_path / "speed")
    for one, other in [
        (volts, volts),
        (volts, speed),
        (volts, "/dev/null"),
        ("/dev/null", speed),
        (str(tmp_path / "unplugged"), str(tmp_path / "gone")),
    ]:
        with pytest.raises(UsageError, match=f"Port {other}.* is named twice in this run"):
            refuse_shared_ports([("text-volts", one), ("text-speed", other)])
    monkeypatch.chdir(tmp_path)
    with pytest.raises(UsageError, match=r"Port \./volts \(the same port as speed\)"):
        refuse_shared_ports([("text-volts", "speed"), ("text-speed", "./volts")])


def test_a_capture_refuses_a_port_given_a_second_time_by_a_link(tmp_path: Path) -> None:
    link = tmp_path / "tach"
    with PtyPeer(VOLTS) as peer:
        link.symlink_to(peer.address)
        wanted = spec(tmp_path / "run.jsonl", ("text-volts", peer.address), ("text-speed", str(link)))
        with pytest.raises(UsageError) as caught:
            CaptureProcess.start(wanted)
    assert str(caught.value).startswith(
        f"Port {link} (the same port as {peer.address}) is named twice in this run"
    )


@pytest.mark.parametrize("folder", [".", "/dev"])
def test_ports_of_their_own_and_what_is_no_port_are_let_pass(
    folder: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    refuse_shared_ports([("text-volts", "/dev/ttyUSB0"), ("text-speed", "/dev/ttyUSB1")])
    refuse_shared_ports([("keyboard-pair", "keyboard"), ("keyboard-pair", "keyboard")])
    refuse_shared_ports([("ble-volts", "ble:C4:11:5E:00:00:01"), ("ble-speed", "ble:C4:11:5E:00:00:01")])
