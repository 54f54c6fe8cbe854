"""Devices that the tests put into the imitation's reach; all invented."""

from __future__ import annotations

from typing import Any

from drivers.gatt.uuids import full_uuid

TACH = "C4:11:5E:00:00:01"
METER = "C4:11:5E:00:00:02"
COUNTER = "C4:11:5E:00:00:03"
OWN_SERVICE = "5b1f0001-3c2a-4f7e-9d10-7a1c0e55c001"
OWN_VALUE = "5b1f0002-3c2a-4f7e-9d10-7a1c0e55c001"

SPEED_UUID = full_uuid("0x2C09")
VOLTS_UUID = full_uuid("0x2B18")
CSC_UUID = full_uuid("0x2A5B")
CSC_SERVICE_UUID = full_uuid("0x1816")
FORMAT_UUID = full_uuid("0x2904")


def device(
    address: str, name: str, service: str, *characteristics: dict[str, Any], **more: Any
) -> dict[str, Any]:
    """A device with one service that it also advertises."""
    full = full_uuid(service)
    services = [{"uuid": full, "characteristics": list(characteristics)}]
    # 0x1801 is there as on nearly every device; bleak looks for connected ones by it.
    return {
        "address": address,
        "name": name,
        "uuids": [full, full_uuid("0x1801")],
        "services": services,
        **more,
    }


def tach(rate: float = 50.0, **more: Any) -> dict[str, Any]:
    """Sends 0, 1, 2, ... rpm, so that a packet lost or swapped shows."""
    return device(TACH, "Shop tach", "0x185A", {"uuid": SPEED_UUID, "rate": rate}, **more)


def meter(*values: str, rate: float = 10.0, **more: Any) -> dict[str, Any]:
    """Sends these values as Voltage, in turn; 13.0 V where none are given."""
    sent = list(values) or ["4003"]
    return device(
        METER, "Bench meter", OWN_SERVICE, {"uuid": VOLTS_UUID, "rate": rate, "values": sent}, **more
    )


def counter(rpm: float = 1200.0, rate: float = 4.0, **more: Any) -> dict[str, Any]:
    """Counts revolutions; both its count and its clock wrap within seconds."""
    return device(
        COUNTER, "Shaft counter", "0x1816", {"uuid": CSC_UUID, "rate": rate, "csc_rpm": rpm}, **more
    )
