"""How numbers are written: no more digits than are known, and no jumping about."""

from __future__ import annotations

import math
from collections.abc import Iterable

__all__ = [
    "clock",
    "fixed",
    "known",
    "own_error_unknown",
    "percent",
    "plus_minus",
    "screen_decimals",
    "seconds",
    "two_digit_decimals",
    "with_uncertainty",
]


def known(value: float | None) -> bool:
    """Whether there is a finite value."""
    return value is not None and math.isfinite(value)


def fixed(value: float, decimals: int) -> str:
    """A number with that many decimals; never "-0"."""
    text = f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def two_digit_decimals(uncertainty: float) -> int:
    """Decimals that show two significant digits of an uncertainty (JCGM 100:2008, 7.2.6), from 0 to 6."""
    if not uncertainty > 0:
        return 3
    exponent = int(f"{uncertainty:.1e}".partition("e")[2])
    return min(max(1 - exponent, 0), 6)


def plus_minus(uncertainty: float, unit: str = "V", *, least: bool = False) -> str:
    """An uncertainty as it stands everywhere, in two significant digits: "± 0.31 V", "± 0.31 V at least".

    Args:
        uncertainty: the expanded one.
        unit: its unit.
        least: an instrument's own error is unknown and so not in it.
    """
    text = f"± {fixed(uncertainty, two_digit_decimals(uncertainty))} {unit}"
    return f"{text} at least" if least else text


def with_uncertainty(value: float, uncertainty: float | None, unit: str, *, least: bool = False) -> str:
    """Such as "24.61 V ± 0.31 V"; a value whose uncertainty isn't known says so."""
    if uncertainty is None or not math.isfinite(uncertainty):
        return f"{value:.4g} {unit} (uncertainty not known)"
    return (
        f"{fixed(value, two_digit_decimals(uncertainty))} {unit} {plus_minus(uncertainty, unit, least=least)}"
    )


def own_error_unknown(who: Iterable[str]) -> str:
    """What an uncertainty leaves out: "and the meter's own error, unknown"; "" where it leaves nothing out."""
    owners = [f"{one}'s" for one in dict.fromkeys(who)]
    if not owners:
        return ""
    return (
        f"and {' and '.join(owners)} own errors, unknown"
        if owners[1:]
        else f"and the {owners[0]} own error, unknown"
    )


def screen_decimals(expanded_uncertainty: float | None, previous: int | None) -> int:
    """Decimals of the main value, seen from afar: one or two digits of its uncertainty.

    Two decimals below 0.2, one below 2, none above, with the border moved away
    from the last choice so that the last digit does not come and go.
    """
    if expanded_uncertainty is None or not math.isfinite(expanded_uncertainty):
        return previous if previous is not None else 1
    for decimals, border in ((2, 0.2), (1, 2.0)):
        slack = 1.0 if previous is None else (1.2 if previous >= decimals else 0.8)
        if expanded_uncertainty < border * slack:
            return decimals
    return 0


def percent(probability: float) -> str:
    """A probability as a percentage that never rounds to certainty."""
    if probability > 0.999:
        return "over 99.9 %"
    if probability < 0.001:
        return "under 0.1 %"
    return f"{100 * probability:.1f} %"


def seconds(value: float) -> str:
    """A length of time: "0.3 s", "12 s", "3 min"."""
    value = max(value, 0.0)
    if value < 9.95:
        return f"{value:.1f} s"
    return f"{value:.0f} s" if value < 120 else f"{value / 60:.0f} min"


def clock(value: float) -> str:
    """Session time: "0:07", "12:30", "1:02:03"."""
    whole = int(max(value, 0.0))
    minutes, second = divmod(whole, 60)
    hours, minute = divmod(minutes, 60)
    return f"{hours}:{minute:02}:{second:02}" if hours else f"{minutes}:{second:02}"
