"""Protocol ``nmea``: NMEA 0183 sentences RPM and XDR, as marine engine gateways send them."""

from __future__ import annotations

from drivers.nmea.driver import DRIVER

__all__ = ["DRIVER"]
