"""Protocol ``frame``: fixed binary frames, described in the card or of the seven-segment kind."""

from __future__ import annotations

from drivers.frame.driver import DRIVER

__all__ = ["DRIVER"]
