"""The last digit of an instrument, read off the text of its log: 20.00 shows hundredths though its value is whole."""

from __future__ import annotations

from decimal import Decimal

__all__ = ["LastDigit"]

_MOST_DECIMALS = 6
"""More than these are a sum's rounding, no display's digits."""
_LOOKED_AT = 1000


class LastDigit:
    """Looks at numbers as they were written."""

    def __init__(self) -> None:
        self._seen: list[tuple[float, int]] = []

    def look_at(self, number: str) -> None:
        """Take in a number with a decimal point; after the first thousand they are passed over."""
        if len(self._seen) < _LOOKED_AT:
            exponent = Decimal(number).as_tuple().exponent
            if isinstance(exponent, int):
                self._seen.append((abs(float(number)), exponent))

    @property
    def value(self) -> float | None:
        """Weight of the last digit, in the unit of the text; None where it can't be told.

        Taken off the upper half of the numbers, because a display that changes
        its range shows one digit more on small ones; and there off the number
        with the most decimals, because some logs leave zeros at the end away.
        """
        if not self._seen:
            return None
        middle = sorted(size for size, _ in self._seen)[len(self._seen) // 2]
        finest = min(exponent for size, exponent in self._seen if size >= middle)
        # A whole number written with an exponent says how it was printed, not what the display shows.
        return float(10.0 ** min(finest, 0)) if finest >= -_MOST_DECIMALS else None
