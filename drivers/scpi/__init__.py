"""Protocol ``scpi``: an instrument that is asked, by SCPI over IEEE 488.2 messages."""

from __future__ import annotations

from drivers.scpi.driver import DRIVER

__all__ = ["DRIVER"]
