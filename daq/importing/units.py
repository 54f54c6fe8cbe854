"""Units in a column's header, where they are not the one in which the quantity is recorded."""

from __future__ import annotations

import re
from fractions import Fraction

from daq.model.quantity import Quantity

__all__ = ["unit_factor"]

_UNIT = re.compile(r"[\[(]\s*+([^\s\[\]()]++)\s*+[\])]\s*+$|(?:^|[\s,_])([^\s,_\[\]()]++)\s*+$")
"""In the last brackets, or as the last word: "U1 [mV]", "speed_rps", "speed, krpm", "1/s".

No two parts can take the same letters and none gives back, so that a header of any length takes time by its length.
"""
_A_SECOND, _THOUSANDS = Fraction(60), Fraction(1000)
_FACTORS = {
    "V": {"mV": Fraction(1, 1000), "kV": Fraction(1000)},
    "A": {"mA": Fraction(1, 1000), "kA": Fraction(1000)},
    "ohm": {"mohm": Fraction(1, 1000), "kohm": Fraction(1000), "mΩ": Fraction(1, 1000), "kΩ": Fraction(1000)},
    "Hz": {"mHz": Fraction(1, 1000), "kHz": Fraction(1000)},
    "rpm": {
        **dict.fromkeys(("1/s", "s-1", "s^-1", "s⁻¹", "r/s", "rev/s", "rps", "RPS"), _A_SECOND),
        **dict.fromkeys(("krpm", "kRPM", "KRPM", "1000/min"), _THOUSANDS),
    },
}
"""Not Hz for a speed: that may be of the marks, or of the alternator's volts."""


def unit_factor(header: str, quantity: Quantity) -> tuple[str, Fraction] | None:
    """The unit in a header such as "U1 [mV]" or "speed_rps", and what its numbers are to be multiplied by.

    None where the header names no unit that is known here, or the quantity's own.
    """
    found = _UNIT.search(header)
    unit = (found[1] or found[2]) if found is not None else ""
    factor = _FACTORS.get(quantity.unit, {}).get(unit)
    return None if factor is None else (unit, factor)
