"""What can be no address is wrong usage, told in our words, before anything is opened."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.driver_api import UsageError
from drivers.transports.serial_address import check_serial_address
from tests.tui.program import spinvolt_here


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("", "a serial port or a network address"),
        ("keyboard", "a serial port or a network address"),
        ("ble:C4:11:5E:00:00:01", "a serial port or a network address"),
        ("socket://junk", "write socket://HOST:PORT"),
        ("socket://127.0.0.1", "write socket://HOST:PORT"),
        ("socket://127.0.0.1:abc", "write socket://HOST:PORT"),
        ("socket://127.0.0.1:0", "write socket://HOST:PORT"),
        ("socket://127.0.0.1:99999", "write socket://HOST:PORT"),
        ("socket://:7000", "write socket://HOST:PORT"),
        ("socket://[::1", "write socket://HOST:PORT"),
        ("rfc2217://junk", "write rfc2217://HOST:PORT"),
        ("https://127.0.0.1:7000", "https:// in 'https://127.0.0.1:7000' is no kind of address"),
        ("://x", "no kind of address"),
    ],
)
def test_what_can_be_no_address_is_refused(address: str, words: str) -> None:
    with pytest.raises(UsageError) as caught:
        check_serial_address(address)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    "address",
    [
        "/dev/ttyUSB0",
        "COM3",
        "socket://127.0.0.1:7000",
        "socket://[::1]:7000",
        "rfc2217://shed:7000",
        "loop://",
    ],
)
def test_what_may_be_one_is_let_pass(address: str) -> None:
    check_serial_address(address)


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("socket://junk", 2, "write socket://HOST:PORT"),
        ("keyboard", 2, "not on 'keyboard'"),
        ("/etc/passwd", 2, "is no serial port"),
        ("/dev/no-such-port", 1, "There is no port"),
    ],
)
def test_the_program_ends_with_that_status(
    address: str, status: int, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only the capture process looks at the address, and its word decides."""
    ran = spinvolt_here(
        *("run", "-i", f"text-volts@{address}", "--headless", "--out", "x.jsonl"),
        folder=tmp_path,
        capsys=capsys,
    )
    assert ran.status == status
    assert words in ran.err
    assert len(ran.err.splitlines()) == 1
    assert not (tmp_path / "x.jsonl").exists()
