"""Which Bluetooth LE devices are in reach, and what services they say they have."""

from __future__ import annotations

import asyncio
from typing import NamedTuple

from drivers.transports.ble import quiet_bleak
from drivers.transports.ble_faults import Doing, ble_failed, foreign_ble_exceptions

__all__ = ["Nearby", "nearby_devices"]


class Nearby(NamedTuple):
    """A device that was heard."""

    address: str
    """As it goes behind ``ble:``."""
    name: str
    """Empty where it sends none."""
    services: tuple[str, ...]
    """UUIDs in full; a device need not advertise all it has."""
    signal_dbm: int | None


async def nearby_devices(seconds: float, adapter: str | None = None) -> list[Nearby]:
    """Listen for that long; strongest first.

    Raises:
        TransportError: Bluetooth can't be used here; says why and what to do.
    """
    from bleak import BleakScanner

    quiet_bleak()
    try:
        async with asyncio.timeout(seconds + 5.0):
            found = await BleakScanner.discover(
                seconds, return_adv=True, bluez={} if adapter is None else {"adapter": adapter}
            )
    except foreign_ble_exceptions() as error:
        raise ble_failed(error, "Bluetooth", "ble:", Doing.SEARCH, limit_s=seconds + 5.0) from error
    devices = [
        Nearby(
            device.address,
            device.name or seen.local_name or "",
            tuple(sorted(uuid.lower() for uuid in seen.service_uuids)),
            seen.rssi if seen.rssi > -127 else None,
        )
        for device, seen in found.values()
    ]
    return sorted(devices, key=lambda d: (-(d.signal_dbm or -128), d.address))
