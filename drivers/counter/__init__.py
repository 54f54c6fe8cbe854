"""Protocol ``counter``: a running count of pulses with the device's own time, as microcontroller boards send it."""

from __future__ import annotations

from drivers.counter.driver import DRIVER

__all__ = ["DRIVER"]
