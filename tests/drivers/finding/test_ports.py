"""What is told of a serial port, and who has it."""

from __future__ import annotations

import fcntl
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from serial.tools.list_ports_common import ListPortInfo

from drivers.transports.holders import port_holder
from drivers.transports.ports import port_as_found

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="who has a port is asked of /proc, which Linux alone has"
)


def port(**more: object) -> ListPortInfo:
    info = ListPortInfo("/dev/ttyUSB-none")
    for key, value in more.items():
        setattr(info, key, value)
    return info


def test_usb_names_are_told() -> None:
    found = port_as_found(
        port(vid=0x1209, pid=0x0001, product="Shed cable", manufacturer="Nursery", serial_number="K7"),
        ["text-speed"],
    )
    assert (found.address, found.name, found.cards) == ("/dev/ttyUSB-none", "Shed cable", ("text-speed",))
    assert found.details == ("USB 1209:0001", "by Nursery", "serial number K7")
    assert found.in_use_by == ""


def test_a_port_without_names_has_none() -> None:
    found = port_as_found(port(), [])
    assert (found.name, found.details) == ("", ())


def holder_process(path: str, how: str) -> subprocess.Popen[bytes]:
    """Another process that has a file open, with or without a lock."""
    code = (
        "import fcntl, os, sys\n"
        "fd = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)\n"
        "fcntl.flock(fd, fcntl.LOCK_EX) if sys.argv[2] == 'locks' else None\n"
        "print('ready', flush=True)\n"
        "sys.stdin.read()\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, path, how], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stdout.readline() == b"ready\n"
    return process


def test_who_locks_a_pseudo_terminal_is_named() -> None:
    near, far = pty.openpty()
    try:
        address = os.ttyname(far)
        assert port_holder(address) == ""
        with holder_process(address, "locks") as process:
            holder = port_holder(address)
            assert holder.endswith(f"(process {process.pid})")
            assert process.stdin is not None
            process.stdin.close()
        assert port_holder(address) == "", "it has let go"
    finally:
        os.close(near)
        os.close(far)


def test_who_has_a_real_port_open_without_a_lock_is_named_too(tmp_path: Path) -> None:
    stand_in = tmp_path / "port"
    stand_in.touch()
    assert port_holder(str(stand_in)) == ""
    with holder_process(str(stand_in), "opens") as process:
        assert port_holder(str(stand_in)).endswith(f"(process {process.pid})")
        assert process.stdin is not None
        process.stdin.close()


def test_this_process_itself_is_nobody_elses(tmp_path: Path) -> None:
    stand_in = tmp_path / "port"
    with stand_in.open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        assert port_holder(str(stand_in)) == ""


def test_what_is_no_file_has_no_holder() -> None:
    assert port_holder("socket://127.0.0.1:7000") == ""
    assert port_holder("/dev/ttyUSB-none") == ""
    assert port_holder("a\0b") == ""
