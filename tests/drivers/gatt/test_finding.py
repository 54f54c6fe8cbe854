"""What `spinvolt ports` says of Bluetooth LE: real finding process, real bleak, imitation of BlueZ; not a radio."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from daq.finding import find
from tests.drivers.finding.test_listening import given_time
from tests.drivers.gatt.conftest import RigStarter
from tests.drivers.gatt.devices import COUNTER, METER, TACH, counter, meter, tach
from tests.drivers.gatt.rig import Rig
from tests.tui.program import spinvolt_here

PRIVATE_CARD = """
name = "shed-meter"
title = "t"
protocol = "gatt"
[[settings.value]]
characteristic = "5b1f0002-3c2a-4f7e-9d10-7a1c0e55c001"
service = "5b1f0001-3c2a-4f7e-9d10-7a1c0e55c001"
format = "uint16"
[[channel]]
quantity = "ac_voltage"
"""


async def test_devices_are_found_with_their_services_and_cards(
    bluez: Rig, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "cards").mkdir()
    (tmp_path / "cards" / "shed-meter.toml").write_text(PRIVATE_CARD)
    monkeypatch.setenv("SPINVOLT_CONFIG", str(tmp_path))
    for device in (tach(), counter(), meter()):
        await bluez.device(device)
    found = await asyncio.to_thread(find, 2.0)
    seen = {one.address: one for one in found.instruments if one.address.startswith("ble:")}
    assert set(seen) == {f"ble:{TACH}", f"ble:{COUNTER}", f"ble:{METER}"}
    assert seen[f"ble:{COUNTER}"].name == "Shaft counter"
    assert seen[f"ble:{COUNTER}"].cards == ("ble-revolutions",)
    assert any("0x1816" in detail for detail in seen[f"ble:{COUNTER}"].details)
    assert seen[f"ble:{METER}"].cards[0] == "shed-meter", (
        "one's own card names the service that it advertises"
    )
    assert "shed-meter" not in seen[f"ble:{TACH}"].cards
    assert found.remarks == ()
    assert await bluez.calls("Connect") == 0, "looking connects to nobody"


@pytest.mark.parametrize(
    ("adapter", "words"),
    [("off", "Bluetooth is switched off."), ("none", "No Bluetooth adapter found.")],
)
async def test_no_bluetooth_is_a_line_and_no_error(
    adapter: str, words: str, start_rig: RigStarter, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    await start_rig(adapter)  # type: ignore[arg-type]  # one of AdapterState
    ran = await asyncio.to_thread(spinvolt_here, "ports", "--seconds", "0.1", folder=tmp_path, capsys=capsys)
    assert (ran.status, ran.err) == (0, "")
    assert sum(words in line for line in ran.out.splitlines()) == 1


async def test_listening_to_a_device_says_which_card_fits(bluez: Rig) -> None:
    await bluez.device(tach())
    heard = await asyncio.to_thread(
        given_time, f"ble:{TACH}", (), 1.0, came=lambda result: any(one.readings >= 4 for one in result.heard)
    )
    assert heard.trouble == ""
    assert [(one.card, one.share) for one in heard.heard] == [("ble-speed", 1.0)]
    assert heard.heard[0].readings >= 4
    assert any("doesn't offer" in tried.line for tried in heard.tried), [tried.line for tried in heard.tried]
