"""What is told when Bluetooth, the bus or the device refuses: real bleak, imitation of BlueZ; not a radio."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.driver_api import TransportReason
from drivers.transports.ble_nearby import nearby_devices
from tests.drivers.gatt.conftest import RigStarter
from tests.drivers.gatt.devices import TACH, tach
from tests.drivers.gatt.links import failure_of, link_to, listening
from tests.drivers.gatt.rig import Rig


@pytest.mark.parametrize(
    ("adapter", "says"),
    [
        ("none", "No Bluetooth adapter found"),
        ("off", "Bluetooth is switched off"),
        ("classic", "can't connect to Bluetooth LE devices"),
    ],
)
async def test_adapters_that_are_of_no_use(start_rig: RigStarter, adapter: str, says: str) -> None:
    await start_rig(adapter)  # type: ignore[arg-type]  # the parameters above are its literals
    link = link_to(TACH)
    for error in (await failure_of(link.open()), await failure_of(nearby_devices(0.1))):
        assert error.reason is TransportReason.UNAVAILABLE
        assert says in str(error)
    await link.aclose()


async def test_an_adapter_that_the_card_names_and_that_is_not_there(bluez: Rig) -> None:
    error = await failure_of(link_to(TACH, adapter="hci7").open())
    assert error.reason is TransportReason.UNAVAILABLE
    assert "Bluetooth adapter hci7 not found" in str(error)


async def test_no_bus() -> None:
    error = await failure_of(link_to(TACH).open())
    assert error.reason is TransportReason.UNAVAILABLE
    assert "no D-Bus system bus is running" in str(error)


async def test_a_bus_without_bluetoothd(bluez: Rig) -> None:
    bluez.end_service()
    error = await failure_of(link_to(TACH).open())
    assert error.reason is TransportReason.UNAVAILABLE
    assert "Install BlueZ and start the `bluetooth` service" in str(error)


async def test_a_bus_whose_daemon_is_dead(bluez: Rig) -> None:
    bluez.bus.kill()
    error = await failure_of(link_to(TACH).open())
    assert error.reason is TransportReason.UNAVAILABLE
    assert "system bus isn't answering" in str(error)


async def test_a_bus_that_rejects_the_user(bluez: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BLEAK_DBUS_AUTH_UID", "64123")
    error = await failure_of(link_to(TACH).open())
    assert error.reason is TransportReason.NOT_PERMITTED
    assert "system bus refused this user" in str(error)


async def test_a_bus_that_forbids_bluetooth(start_rig: RigStarter, tmp_path: Path) -> None:
    await start_rig("on", deny_bluez=True)
    error = await failure_of(link_to(TACH).open())
    assert error.reason is TransportReason.NOT_PERMITTED
    assert "not allowed to use Bluetooth" in str(error)


async def test_a_device_that_is_not_there(bluez: Rig) -> None:
    error = await failure_of(link_to(TACH, find_s=0.5).open())
    assert error.reason is TransportReason.NOT_FOUND
    assert f"{TACH} was not seen within 0.5 s. Is it on, near, and not connected to a phone?" in str(error)


async def test_a_device_that_takes_too_long(bluez: Rig) -> None:
    await bluez.device(tach(hang=True))
    link = link_to(TACH, connect_s=1.0)
    error = await failure_of(link.open())
    await link.aclose()
    assert error.reason is TransportReason.UNREACHABLE
    assert f"Shop tach ({TACH}) was seen but did not finish connecting within 1 s" in str(error)


async def test_a_device_that_drops_the_link_at_once(bluez: Rig) -> None:
    await bluez.device(tach(drop_early=True))
    link = link_to(TACH)
    error = await failure_of(link.open())
    await link.aclose()
    assert error.reason is TransportReason.UNREACHABLE
    assert "dropped the link at once" in str(error)


REFUSALS: list[tuple[str, str, str, TransportReason, str]] = [
    (
        "Connect",
        "org.bluez.Error.Failed",
        "br-connection-canceled",
        TransportReason.UNREACHABLE,
        "failed while connecting (BlueZ said: br-connection-canceled)",
    ),
    ("Connect", "org.bluez.Error.InProgress", "In Progress", TransportReason.BUSY, "In Progress"),
    ("Connect", "org.bluez.Error.NotReady", "", TransportReason.UNAVAILABLE, "switched off"),
    (
        "Connect",
        "org.freedesktop.DBus.Error.UnknownObject",
        "",
        TransportReason.NOT_FOUND,
        "Is it on, near",
    ),
    (
        "Connect",
        "org.bluez.Error.AuthenticationFailed",
        "",
        TransportReason.NOT_PERMITTED,
        "paired first",
    ),
    ("StartDiscovery", "org.bluez.Error.InProgress", "busy", TransportReason.BUSY, "looking for it"),
    ("StartNotify", "org.bluez.Error.NotAuthorized", "", TransportReason.NOT_PERMITTED, "paired first"),
    (
        "StartNotify",
        "org.bluez.Error.NotPermitted",
        "Not paired",
        TransportReason.NOT_PERMITTED,
        "paired",
    ),
    (
        "StartNotify",
        "org.bluez.Error.Failed",
        "Operation failed with ATT error: 0x0e",
        TransportReason.OTHER,
        "refused asking for its readings (GATT error 0x0E)",
    ),
]


async def test_refusals_come_in_our_words(bluez: Rig) -> None:
    await bluez.device(tach())
    for member, name, text, reason, says in REFUSALS:
        await bluez.fault(member, name, text)
        link = link_to(TACH)
        error = await failure_of(listening(link))
        assert (error.reason, error.address) == (reason, f"ble:{TACH}"), name
        assert says in str(error)
        await bluez.do("mend")
        await link.aclose()


async def test_an_old_bluez_is_told(bluez: Rig, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from bleak.backends.bluezdbus.version import BlueZFeatures

    # bleak asks once for each process and remembers.
    monkeypatch.setattr(BlueZFeatures, "checked_bluez_version", False)
    monkeypatch.setattr(BlueZFeatures, "supported_version", True)
    monkeypatch.setattr(BlueZFeatures, "_check_bluez_event", None)
    script = tmp_path / "empty-path" / "bluetoothctl"
    script.write_text("#!/bin/sh\necho bluetoothctl: 5.50\n")
    script.chmod(0o755)
    await bluez.device(tach())
    error = await failure_of(link_to(TACH).open())
    assert error.reason is TransportReason.UNAVAILABLE
    assert "BlueZ 5.55" in str(error)
