"""Protocol ``modbus``: registers of a Modbus device, RTU on a serial line or TCP."""

from __future__ import annotations

from drivers.modbus.driver import DRIVER

__all__ = ["DRIVER"]
