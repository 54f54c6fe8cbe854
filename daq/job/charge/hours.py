"""Hours until the battery is full, or flat, as a range."""

from __future__ import annotations

from dataclasses import dataclass

from daq.cards.machine_parts import BatteryCard
from daq.job.judging.given import Measured
from daq.job.judging.verdicts import at_least, call
from daq.job.physics.peukert import RATED_HOURS, exponent_of, hours_rated
from daq.job.physics.rest_voltage import ChargeBand

__all__ = ["Hours", "hours_of"]

_TAKEN = 0.85
"""Share of the amps put in that a lead-acid battery gives back: common practice, no source."""
_LEAST_A = 0.05


@dataclass(frozen=True)
class Hours:
    """From and to, with how they came about."""

    what: str
    """"full" or "flat"."""
    low_h: float
    high_h: float | None
    """None where the doubt lets it last for ever."""
    method: str

    @property
    def words(self) -> str:
        """As in "flat in 3 to 5 h"."""
        if self.high_h is None:
            return f"{self.what} in {_hours(self.low_h)} h at the earliest"
        low, high = _hours(self.low_h), _hours(self.high_h)
        return f"{self.what} in {low} to {high} h" if low != high else f"{self.what} in about {low} h"


def hours_of(mean: Measured, band: ChargeBand | None, battery: BatteryCard | None) -> Hours | None:
    """Hours at a mean current.

    Args:
        mean: into the battery; negative: out of it.
        band: its state of charge; None: not known, and then nothing is stated.
        battery: its card; likewise.

    Returns:
        None too where it may gain as well as lose: then neither is stated.
    """
    if band is None or battery is None or battery.capacity_ah is None:
        return None
    if call(at_least(mean.value, mean.u, 0.0)) == "too_close":
        return None
    fastest, slowest = abs(mean.value) + 2.0 * mean.u, abs(mean.value) - 2.0 * mean.u
    if mean.value > 0.0:
        return _to_full(battery.capacity_ah, band, fastest, slowest)
    return _to_flat(battery, battery.capacity_ah, band, fastest, slowest)


def _to_full(capacity_ah: float, band: ChargeBand, fastest: float, slowest: float) -> Hours:
    least, most = (1.0 - band.high) * capacity_ah / _TAKEN, (1.0 - band.low) * capacity_ah / _TAKEN
    method = (
        "Missing charge over the mean current, with 85 % of it taken in (common practice, no source); the last fifth "
        "takes longer, because a filling battery takes less and less."
    )
    return Hours("full", least / fastest, most / slowest if slowest > _LEAST_A else None, method)


def _to_flat(
    battery: BatteryCard, capacity_ah: float, band: ChargeBand, fastest: float, slowest: float
) -> Hours:
    n, source = exponent_of(battery)
    low = band.low * hours_rated(capacity_ah, battery.rated_hours, fastest, n)
    high = None
    if slowest > _LEAST_A:
        high = band.high * hours_rated(capacity_ah, battery.rated_hours, slowest, n)
    return Hours("flat", low, high, f"{RATED_HOURS}, times the state of charge; {source}.")


def _hours(value: float) -> str:
    return f"{value:.1f}" if value < 9.95 else f"{value:.0f}"
