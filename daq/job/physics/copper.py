"""Resistance of a copper winding: lead zero, temperature, and what an ohmmeter does not tell.

Temperature follows the resistance method of IEC 60034-1, with k = 234.5 for
copper (IEEE 112; k = 1/α20 - 20 with α20 = 0.00393 of NBS Handbook 100). IEC
60034-1 itself rounds to 235; over the temperatures of a workshop the two
differ by less than 0.05 %.
"""

from __future__ import annotations

__all__ = [
    "K_COPPER_C",
    "NO_INSULATION_TEST",
    "at_20_degrees",
    "change_per_kelvin",
    "resistance_ratio",
    "temperature_rise_k",
]

K_COPPER_C = 234.5
"""Temperature below 0 °C, in °C, at which copper's resistance would extrapolate to nothing."""

NO_INSULATION_TEST = (
    "An ohmmeter's few volts find a winding that touches ground; they are no test of its insulation. That takes "
    "an insulation tester at its proper voltage (IEEE 43-2013: 500 V DC for windings under 1 kV), where the "
    "service manual asks for one."
)


def resistance_ratio(from_c: float, to_c: float, k: float = K_COPPER_C) -> float:
    """Resistance at ``to_c`` over that at ``from_c``, both in °C: (k + to) / (k + from).

    Raises:
        ValueError: a temperature at which copper is no solid winding.
    """
    for temperature_c in (from_c, to_c):
        if not -100.0 <= temperature_c <= 400.0:
            raise ValueError(f"{temperature_c:g} °C is no temperature of a winding")
    return (k + to_c) / (k + from_c)


def at_20_degrees(resistance_ohm: float, temperature_c: float, k: float = K_COPPER_C) -> float:
    """A resistance measured at a temperature, brought to 20 °C."""
    return resistance_ohm * resistance_ratio(temperature_c, 20.0, k)


def change_per_kelvin(temperature_c: float = 20.0, k: float = K_COPPER_C) -> float:
    """Share by which the resistance changes per kelvin: 1 / (k + t), 0.00393 at 20 °C."""
    return 1.0 / (k + temperature_c)


def temperature_rise_k(
    cold_ohm: float, cold_c: float, hot_ohm: float, ambient_c: float, k: float = K_COPPER_C
) -> float:
    """Rise of a winding over the surrounding air, by resistance (IEC 60034-1).

    Args:
        cold_ohm: resistance R1 at temperature ``cold_c``.
        cold_c: °C.
        hot_ohm: resistance R2 after running.
        ambient_c: temperature of the air then, °C.
        k: of copper.
    """
    return hot_ohm / cold_ohm * (k + cold_c) - (k + ambient_c)
