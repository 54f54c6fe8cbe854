"""``spinvolt ports``, as its user calls it, at real pseudo-terminals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from daq.driver_api import FoundInstrument, TransportDefaults
from daq.errors import SpinvoltError
from daq.finding import Example, Found, Heard, Listened, Tried
from tests.drivers.peers import SILENT, PtyPeer, text_lines
from tests.tui.program import spinvolt, spinvolt_here
from tui.commands.ports import free_ports
from tui.portstext import found_lines, listened_lines


def test_the_list_is_one_json_object(tmp_path: Path) -> None:
    ran = spinvolt("ports", "--json", "--seconds", "0", folder=tmp_path)
    assert ran.status == 0
    listed = json.loads(ran.out)
    assert set(listed) == {"ports", "remarks"}
    assert all({"address", "name", "details", "cards", "in_use_by"} <= set(port) for port in listed["ports"])


def test_listening_tells_the_card_and_how_to_record(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with PtyPeer(text_lines("%.1f rpm\r\n")) as peer:
        for seconds in (
            "0.3",
            "3",
        ):  # a busy machine may keep the instrument from speaking for all of the shorter time
            ran = spinvolt_here(
                "ports", "--listen", peer.address, "--seconds", seconds, folder=tmp_path, capsys=capsys
            )
            if "text-speed" in ran.out:
                break
    assert ran.status == 0
    assert "text-speed" in ran.out
    assert "100 % of the bytes" in ran.out
    assert f"@{peer.address}" in ran.out.splitlines()[-1]
    assert "Listening at" in ran.err


def test_listening_in_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with PtyPeer(SILENT) as peer:
        ran = spinvolt_here(
            *("ports", "--json", "--listen", peer.address, "--card", "text-volts", "--seconds", "0.1"),
            folder=tmp_path,
            capsys=capsys,
        )
        assert peer.received == b""
    assert (ran.status, ran.err) == (0, "")
    (one,) = json.loads(ran.out)["listened"]
    assert (one["address"], one["heard"], one["trouble"]) == (peer.address, [], "")
    assert [tried["bytes_received"] for tried in one["tried"]] == [0]


def test_a_port_that_is_not_there_is_told_with_status_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = spinvolt_here("ports", "--listen", "/dev/ttyUSB-none", folder=tmp_path, capsys=capsys)
    assert ran.status == 1
    assert "There is no port /dev/ttyUSB-none" in ran.out


@pytest.mark.parametrize(
    "arguments",
    [
        ("--listen", "keyboard"),
        ("--card", "text-volts"),
        ("--seconds", "-1"),
        ("--listen", "/dev/ttyUSB0", "--seconds", "0"),
    ],
)
def test_wrong_usage(arguments: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = spinvolt_here("ports", *arguments, folder=tmp_path, capsys=capsys)
    assert ran.status == 2
    assert len(ran.err.splitlines()) == 1
    assert ran.out == ""


def test_the_list_in_words() -> None:
    usb = FoundInstrument(
        "/dev/ttyUSB7",
        "Shed\x1b[2J cable",
        ("USB 1209:0001",),
        cards=("text-speed",),
        in_use_by="x (process 7)",
    )
    radio = FoundInstrument("ble:C4:11:5E:00:00:02", "Tach", signal_dbm=-48)
    lines = list(found_lines(Found((usb, radio)), looked_for_ble=True))
    assert lines == [
        "Serial ports:",
        "  /dev/ttyUSB7  Shed cable",
        "    USB 1209:0001",
        "    in use by x (process 7)",
        "    cards that could fit: text-speed",
        "Bluetooth LE devices:",
        "  ble:C4:11:5E:00:00:02  Tach  -48 dBm",
        "    cards that could fit: none known",
        "Which card fits a port, its bytes tell: spinvolt ports --listen PORT",
    ]
    assert not any("Bluetooth" in line for line in found_lines(Found(), looked_for_ble=False))
    assert (
        list(found_lines(Found(remarks=("Bluetooth is off.",)), looked_for_ble=True))[-1]
        == "Bluetooth is off."
    )


def heard(card: str, quantity: str, *, share: float = 1.0, own: bool = True) -> Heard:
    return Heard(
        card, "t", TransportDefaults(baud=19_200), own, share, 6, 2.0, (Example(quantity, 20.0, "V"),)
    )


def test_what_was_heard_in_words() -> None:
    both = Listened("/dev/ttyUSB7", (heard("a", "ac_voltage"), heard("b", "dc_voltage", own=False)))
    text = "\n".join(listened_lines(both))
    assert "a                 100 % of the bytes, 6 readings, 2 a second, now 20 V" in text
    assert "at 19200 baud, 8N1: that belongs into [transport]" in text
    assert "Bare numbers fit several cards" in text
    poor = "\n".join(listened_lines(Listened("/dev/ttyUSB7", (heard("a", "ac_voltage", share=0.3),))))
    assert "None fits well" in poor
    assert "To record" not in poor


def test_nothing_and_junk_in_words() -> None:
    assert "nothing came" in "\n".join(listened_lines(Listened("p", tried=(Tried("9600 baud, 8N1", 0),))))
    mute = Listened(
        "p", tried=(Tried("9600 baud, 8N1", 0), Tried("asked with a", 0), Tried("asked with b", 0))
    )
    assert "nothing came, also not when it was asked with a and b." in "\n".join(listened_lines(mute))
    junk = "\n".join(listened_lines(Listened("p", tried=(Tried("9600 baud, 8N1", 7, "\\xfe"),))))
    assert "7 bytes came, but no card understands them" in junk
    assert "9600 baud, 8N1: 7 bytes, the last: \\xfe" in junk


def test_without_a_port_all_are_taken_that_are_free() -> None:
    free = FoundInstrument("/dev/ttyUSB7", "")
    taken = FoundInstrument("/dev/ttyUSB8", "", in_use_by="x (process 7)")
    radio = FoundInstrument("ble:C4:11:5E:00:00:02", "Tach")
    assert free_ports(Found((free, taken, radio))) == ["/dev/ttyUSB7"], (
        "a stranger's device is not connected to"
    )
    with pytest.raises(SpinvoltError, match="/dev/ttyUSB8 is in use by x"):
        free_ports(Found((taken, radio)))
    with pytest.raises(SpinvoltError, match="no serial port at the moment"):
        free_ports(Found((radio,)))
