"""Hours that a lead-acid battery lasts at a current: Peukert's law, in its two forms.

The two forms give different hours for the same battery, so whoever states
hours names the form (:data:`PLAIN` or :data:`RATED_HOURS`).
"""

from __future__ import annotations

from daq.cards.machine_parts import BatteryCard, Chemistry

__all__ = ["PLAIN", "RATED_HOURS", "exponent_of", "hours_plain", "hours_rated"]

PLAIN = "Peukert's law in its plain form, t = C / I^n"
RATED_HOURS = "Peukert's law with rated hours, t = H · (C / (H · I))^n"

_USUAL: dict[Chemistry, float] = {"flooded": 1.2, "agm": 1.1, "gel": 1.15}
"""Common practice, no source."""


def exponent_of(battery: BatteryCard) -> tuple[float, str]:
    """The exponent n, and where it comes from; a battery of unknown chemistry is taken as flooded.

    Raises:
        ValueError: the battery is no lead-acid one and its card gives none: there is no usual one for it.
    """
    if battery.peukert_exponent is not None:
        return battery.peukert_exponent, "the machine card"
    if not battery.lead_acid:
        raise ValueError(f"no usual exponent is known of this battery ({battery.kind})")
    n = _USUAL[battery.chemistry or "flooded"]
    return n, f"n = {n:g} for {battery.chemistry or 'flooded'} batteries: common practice, no source"


def hours_plain(capacity_ah: float, current_a: float, n: float) -> float:
    """Give t = C / I^n, in hours: C counts as the capacity at 1 A.

    Raises:
        ValueError: no current, or no exponent that can be.
    """
    _check(current_a, n)
    return float(capacity_ah / current_a**n)


def hours_rated(capacity_ah: float, rated_hours: float, current_a: float, n: float) -> float:
    """Give t = H · (C / (H · I))^n, in hours: at the rated current C/H it lasts the rated hours.

    Raises:
        ValueError: no current, or no exponent that can be.
    """
    _check(current_a, n)
    return float(rated_hours * (capacity_ah / (rated_hours * current_a)) ** n)


def _check(current_a: float, n: float) -> None:
    if not current_a > 0.0:
        raise ValueError(f"a battery is not emptied by {current_a:g} A")
    if not 1.0 <= n <= 2.0:
        raise ValueError(f"n = {n:g} is no exponent of Peukert's law; it lies between 1 and 2")
