"""What may follow ``ble:`` in an address: a device's address, or its name."""

from __future__ import annotations

import re
from typing import NamedTuple

from daq.driver_api import UsageError

__all__ = ["BleAddress", "parse_ble_address"]

_MAC = re.compile(r"(?:[0-9A-Fa-f]{2}:){5}[0-9A-Fa-f]{2}")
_APPLE = re.compile(r"[0-9A-Fa-f]{8}-(?:[0-9A-Fa-f]{4}-){3}[0-9A-Fa-f]{12}")
_LONGEST_NAME = 248
"""Bytes, as Bluetooth limits a device name (Core specification, volume 3, part C, 3.2.2)."""


class BleAddress(NamedTuple):
    """Which device is meant."""

    address: str
    """In capitals; empty where it is known by name."""
    name: str

    @property
    def words(self) -> str:
        """The device in words."""
        return self.address or f"the device named {self.name!r}"

    def matches(self, address: str, *names: str | None) -> bool:
        """Whether a device that was seen is the one."""
        return address.upper() == self.address if self.address else self.name in names


def parse_ble_address(text: str) -> BleAddress:
    """Read ``ble:AA:BB:CC:DD:EE:FF``, ``ble:`` and a UUID (macOS), or ``ble:name=Shop tach``.

    Raises:
        UsageError: it is none of these.
    """
    rest = text.removeprefix("ble:")
    if rest != text:
        if _MAC.fullmatch(rest) or _APPLE.fullmatch(rest):
            return BleAddress(rest.upper(), "")
        name = rest.removeprefix("name=")
        if name != rest and name.strip() and len(name.encode()) <= _LONGEST_NAME:
            return BleAddress("", name)
    raise UsageError(
        f"This card's instrument is reached by Bluetooth LE, not at {text!r}: give ble: and its address, such as "
        "ble:C4:11:5E:00:00:01, or ble:name= and its name. `spinvolt ports` lists those in reach."
    )
