"""Protocol ``gatt``: Bluetooth LE instruments that send their readings as notifications."""

from __future__ import annotations

from drivers.gatt.driver import DRIVER

__all__ = ["DRIVER"]
