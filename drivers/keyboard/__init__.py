"""Protocol ``keyboard``: readings that a person types, for instruments that only have a display."""

from __future__ import annotations

from drivers.keyboard.driver import DRIVER

__all__ = ["DRIVER"]
