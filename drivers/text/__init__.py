"""Protocol ``text``: an instrument that sends a line with a number, and perhaps words and a unit."""

from __future__ import annotations

from drivers.text.driver import DRIVER

__all__ = ["DRIVER"]
