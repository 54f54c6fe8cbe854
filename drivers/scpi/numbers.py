"""Numbers as IEEE 488.2 instruments answer with them, and the two that are none."""

from __future__ import annotations

import math
import re

from daq.driver_api import Quality

__all__ = ["parse_number"]

# IEEE 488.2, 8.7.2-8.7.4: NR1 an integer, NR2 with a point, NR3 with an exponent (clauses from memory).
_NR = re.compile(rb"[+-]?(?:[0-9]{1,40}(?:\.[0-9]{0,40})?|\.[0-9]{1,40})(?:[Ee][+-]?[0-9]{1,4})?")
# SCPI-99 vol. 1, 7.2.1.4 and 7.2.1.5: infinity is 9.9E37 with its sign, not-a-number is 9.91E37.
_INFINITY = 9.9e37
_NOT_A_NUMBER = 9.91e37
_SAME = 1e-6


def parse_number(answer: bytes) -> tuple[float | None, Quality] | None:
    """Read a numeric answer strictly.

    Args:
        answer: one response, without its line end.

    Returns:
        The value and its quality; None when the answer is no NR1, NR2 or NR3 number.
    """
    if _NR.fullmatch(answer) is None:
        return None
    value = float(answer)
    if math.isclose(value, _NOT_A_NUMBER, rel_tol=_SAME):
        return None, Quality.NOT_A_NUMBER
    if abs(value) >= _INFINITY * (1 - _SAME):
        return None, Quality.OVERLOAD
    return value, Quality.GOOD
