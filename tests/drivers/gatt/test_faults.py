"""Every exception that bleak and D-Bus can raise is ours at the border, with a next step in its words."""

from __future__ import annotations

import inspect

import bleak.exc
import dbus_fast.errors
import pytest
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakCharacteristicNotFoundError,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
)

from daq.driver_api import TransportError, TransportReason
from drivers.transports.ble_faults import (
    BLEAK_EXCEPTIONS,
    UNAVAILABLE,
    Doing,
    ble_failed,
    ble_lost,
    ble_silent,
    foreign_ble_exceptions,
)

WHO, ADDRESS = "Shop tach (C4:11:5E:00:00:01)", "ble:C4:11:5E:00:00:01"


def classes_in(module: object) -> dict[str, type[Exception]]:
    return {
        name: found
        for name, found in inspect.getmembers(module, inspect.isclass)
        if issubclass(found, Exception) and found.__module__ == getattr(module, "__name__", "")
    }


def told(error: BaseException, doing: Doing = Doing.CONNECT) -> TransportError:
    return ble_failed(error, WHO, ADDRESS, doing, limit_s=10.0)


def test_every_exception_class_of_bleak_is_known() -> None:
    assert frozenset(classes_in(bleak.exc)) == BLEAK_EXCEPTIONS


def test_every_reason_of_bleak_for_no_bluetooth_has_its_words() -> None:
    assert {reason.name for reason in BleakBluetoothNotAvailableReason} == set(UNAVAILABLE)
    for reason in BleakBluetoothNotAvailableReason:
        error = told(BleakBluetoothNotAvailableError("words of bleak", reason))
        assert (error.reason, str(error)) == UNAVAILABLE[reason.name]


def test_every_exception_class_is_caught_at_the_border() -> None:
    """A class that none of the caught ones covers would go through to the user."""
    classes = {**classes_in(bleak.exc), **classes_in(dbus_fast.errors)}
    assert len(classes) > 15
    for name, found in classes.items():
        assert issubclass(found, foreign_ble_exceptions()), name


@pytest.mark.parametrize("name", sorted(classes_in(dbus_fast.errors)))
def test_every_dbus_exception_has_words(name: str) -> None:
    found = classes_in(dbus_fast.errors)[name]
    arguments = {"DBusError": ("org.freedesktop.DBus.Error.NoReply", "no answer")}.get(name, ("raw words",))
    error = told(found(*arguments))
    assert error.reason in (TransportReason.UNAVAILABLE, TransportReason.NOT_PERMITTED)
    assert "raw words" not in str(error)


@pytest.mark.parametrize(
    ("error", "reason", "says"),
    [
        (BleakDeviceNotFoundError("C4"), TransportReason.NOT_FOUND, "not to be seen any more"),
        (BleakCharacteristicNotFoundError("2b18"), TransportReason.OTHER, "no longer offers"),
        (BleakGATTProtocolError(0x05), TransportReason.NOT_PERMITTED, "paired first"),
        (BleakGATTProtocolError(0x11), TransportReason.OTHER, "GATT error 0x11"),
        (
            BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", ["The name is not activatable"]),
            TransportReason.UNAVAILABLE,
            "start the `bluetooth` service",
        ),
        (
            BleakDBusError(
                "org.freedesktop.DBus.Error.AccessDenied", ["Rejected send message, 2 matched rules"]
            ),
            TransportReason.NOT_PERMITTED,
            "the `bluetooth` group",
        ),
        (BleakDBusError("org.bluez.Error.Failed", []), TransportReason.UNREACHABLE, "BlueZ said: Failed"),
        # bleak's own __str__ fails on details that are no text.
        (BleakDBusError("org.bluez.Error.Failed", [17]), TransportReason.UNREACHABLE, "BlueZ said: 17"),
        (BleakError("device 'dev_C4' not found"), TransportReason.NOT_FOUND, "Is it on, near"),
        (BleakError("adapter 'hci7' not found"), TransportReason.UNAVAILABLE, "hci7"),
        (BleakError("Bleak requires BlueZ >= 5.55."), TransportReason.UNAVAILABLE, "5.55"),
        (BleakError("Not connected"), TransportReason.UNREACHABLE, "dropped the link at once"),
        (
            BleakError("Service Discovery has not been performed yet"),
            TransportReason.UNREACHABLE,
            "dropped the link at once",
        ),
        (BleakError(), TransportReason.OTHER, "failed while connecting"),
        (TimeoutError(), TransportReason.UNREACHABLE, "within 10 s"),
        (FileNotFoundError(2, "No such file"), TransportReason.UNAVAILABLE, "no D-Bus system bus is running"),
        (ConnectionRefusedError(111, "refused"), TransportReason.UNAVAILABLE, "system bus isn't answering"),
        (PermissionError(13, "denied"), TransportReason.NOT_PERMITTED, "not allowed to use Bluetooth"),
        (EOFError(), TransportReason.UNAVAILABLE, "system bus isn't answering"),
        (NotImplementedError("Unsupported platform"), TransportReason.UNAVAILABLE, "on this system"),
        (ImportError("no winrt"), TransportReason.UNAVAILABLE, "on this system"),
        (AssertionError(), TransportReason.OTHER, "AssertionError"),
        (KeyError("Roles"), TransportReason.OTHER, "KeyError"),
    ],
)
def test_words(error: Exception, reason: TransportReason, says: str) -> None:
    assert isinstance(error, foreign_ble_exceptions())
    ours = told(error)
    assert ours.reason is reason
    assert says in str(ours)
    assert str(ours).endswith((".", "?"))
    assert ours.address == ADDRESS


def test_a_search_without_an_answer_blames_the_service() -> None:
    error = told(TimeoutError(), Doing.SEARCH)
    assert error.reason is TransportReason.UNAVAILABLE
    assert "did not answer within 10 s" in str(error)


def test_lost_and_silent_are_both_lost_links() -> None:
    for error in (ble_lost(WHO, ADDRESS, 12), ble_silent(WHO, ADDRESS, 5.0)):
        assert error.reason is TransportReason.LINK_LOST
        assert WHO in str(error)
    assert "after 12 packets" in str(ble_lost(WHO, ADDRESS, 12))
