"""Volts at which a lead-acid battery counts as charged, by temperature (a battery-trade page)."""

from __future__ import annotations

__all__ = ["end_of_charge_v"]

_TABLE_F = ((0.0, 15.1, 15.4), (75.0, 14.4, 14.7), (95.0, 14.2, 14.5))
"""°F, conventional, maintenance-free; 12 V."""


def end_of_charge_v(nominal_voltage_v: float, temperature_c: float) -> tuple[float, float]:
    """Volts at the end of charge: of a conventional battery, and of a maintenance-free one.

    Straight lines between the table's rows; beyond its ends the end's value holds.
    """
    at_f = 1.8 * temperature_c + 32.0
    scale = nominal_voltage_v / 12.0
    first, last = _TABLE_F[0], _TABLE_F[-1]
    if at_f <= first[0] or at_f >= last[0]:
        row = first if at_f <= first[0] else last
        return row[1] * scale, row[2] * scale
    lower = max(row for row in _TABLE_F if row[0] <= at_f)
    upper = min(row for row in _TABLE_F if row[0] > at_f)
    part = (at_f - lower[0]) / (upper[0] - lower[0])
    conventional, maintenance_free = (lower[i] + part * (upper[i] - lower[i]) for i in (1, 2))
    return conventional * scale, maintenance_free * scale
