"""Numbers in sentences: a value with its ± to as many digits as the doubt allows, unit behind."""

from __future__ import annotations

import math

__all__ = ["amount", "as_read", "decimals_for", "plain", "two_digits", "unit_words", "with_wide"]

_UNITS = {"ohm": "Ω", "degC": "°C"}


def unit_words(unit: str) -> str:
    """A unit as people write it."""
    return _UNITS.get(unit, unit)


def decimals_for(expanded: float, *, least: int = 0, most: int = 4) -> int:
    """Decimals that show an uncertainty with two digits where it begins with 1, else with one."""
    if not expanded > 0.0 or not math.isfinite(expanded):
        return 2
    exponent = math.floor(math.log10(expanded))
    leading = expanded / 10.0**exponent
    return min(most, max(least, -exponent + (1 if leading < 1.95 else 0)))


def two_digits(wide: float) -> int:
    """Decimals that show two digits of an expanded uncertainty (JCGM 100:2008, 7.2.6), at most five."""
    if not wide > 0.0 or not math.isfinite(wide):
        return 2
    # Through its rounded form: 0.0996 is 0.10, and has two digits there.
    return min(5, max(0, 1 - int(f"{wide:.1e}".partition("e")[2])))


def with_wide(value: float, wide: float, unit: str, *, signed: bool = False, least: bool = False) -> str:
    """A value with its expanded uncertainty as it came, as in "27.58 ± 0.13 V".

    Args:
        value: in ``unit``.
        wide: the expanded uncertainty.
        unit: as in :class:`daq.model.quantity.Quantity`.
        signed: write a plus.
        least: an instrument's own error is unknown and so not in it.
    """
    decimals = two_digits(wide)
    sign = "+" if signed else ""
    said = f"{_no_minus_zero(f'{value:{sign}.{decimals}f} ± {wide:.{decimals}f}')} {unit_words(unit)}"
    return f"{said} at least" if least else said


def amount(value: float, u: float, unit: str, *, signed: bool = False) -> str:
    """A value with its expanded uncertainty (k = 2), as in "3.1 ± 0.4 A".

    Args:
        value: in ``unit``.
        u: standard uncertainty.
        unit: as in :class:`daq.model.quantity.Quantity`; "" for none.
        signed: write a plus.
    """
    decimals = decimals_for(2.0 * u)
    sign = "+" if signed else ""
    said = f"{value:{sign}.{decimals}f}"
    if u > 0.0:
        said += f" ± {2.0 * u:.{decimals}f}"
    return f"{_no_minus_zero(said)} {unit_words(unit)}".rstrip()


def plain(value: float, unit: str) -> str:
    """A value that has no doubt of its own, such as a limit."""
    return f"{value:g} {unit_words(unit)}".rstrip()


def as_read(value: float, digit: float, unit: str) -> str:
    """A reading to the instrument's last digit, as its display shows it, with no doubt beside it.

    Args:
        value: in ``unit``.
        digit: weight of the last digit; 0.0 where it isn't known, then four digits of the value are given.
        unit: as in :class:`daq.model.quantity.Quantity`; "" for none.
    """
    if digit > 0.0:
        decimals = min(6, max(0, math.ceil(-math.log10(digit) - 1e-9)))
        said = _no_minus_zero(f"{value:.{decimals}f}")
    else:
        said = f"{float(f'{value:.4g}'):g}"
    return f"{said} {unit_words(unit)}".rstrip()


def _no_minus_zero(text: str) -> str:
    head, _, tail = text.partition(" ")
    if head.startswith("-") and float(head) == 0.0:
        head = head[1:]
    return f"{head} {tail}".rstrip()
