"""State of charge from the volts of a battery at rest, as a band.

The row of the table is a battery-trade table for flooded 12 V batteries at
80 °F. Published tables disagree (full: 12.6 to 12.7 V, empty: 11.6 to 11.89 V),
so a reading gives a band and never one number. Between the ends of the table
the spread is taken as a straight line (our choice).
"""

from __future__ import annotations

from dataclasses import dataclass

from daq.cards.machine_parts import BatteryCard, Chemistry

__all__ = ["REST_TABLE", "ChargeBand", "charge_band", "table_voltage_v", "temperature_correction_v"]

REST_TABLE = ((0.0, 11.89), (0.25, 12.06), (0.5, 12.24), (0.75, 12.45), (1.0, 12.65))
"""(share of charge, volts at rest): flooded, 12 V, 80 °F (a battery-trade table)."""

_SPREAD_EMPTY_V = (-0.29, 0.0)
_SPREAD_FULL_V = (-0.05, 0.05)
"""How far other published tables lie from this one, at its two ends."""

_SHIFT_V: dict[Chemistry, tuple[float, float]] = {
    "flooded": (0.0, 0.0),
    "agm": (0.1, 0.25),
    "gel": (0.1, 0.3),
}
"""How much higher a 12 V battery of that kind rests: common practice, no source."""

_STEPS = 200


@dataclass(frozen=True)
class ChargeBand:
    """State of charge between two shares, 0 to 1."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Middle of the band."""
        return 0.5 * (self.low + self.high)

    @property
    def words(self) -> str:
        """As in "50 to 70 %"."""
        if self.high <= 0.0:
            return "empty"
        if self.low >= 1.0:
            return "full"
        return f"{100.0 * self.low:.0f} to {100.0 * self.high:.0f} %"

    @property
    def charged_words(self) -> str:
        """As in "50 to 70 % charged", "empty" or "fully charged"."""
        if self.high <= 0.0:
            return "empty"
        return "fully charged" if self.low >= 1.0 else f"{self.words} charged"


def temperature_correction_v(temperature_c: float) -> float:
    """What is added to the rest volts of a 12 V battery to bring them to 80 °F: 0.024 V for each 10 °F.

    As the same battery-trade table gives it: -0.192 V at 0 °F, +0.096 V at 120 °F.
    """
    return 0.024 * (1.8 * temperature_c + 32.0 - 80.0) / 10.0


def table_voltage_v(share: float) -> float:
    """Volts at rest for a share of charge, 0 to 1, straight lines between the table's rows."""
    for (share0, volts0), (share1, volts1) in zip(REST_TABLE, REST_TABLE[1:], strict=False):
        if share <= share1:
            return volts0 + (volts1 - volts0) * (share - share0) / (share1 - share0)
    return REST_TABLE[-1][1]


def charge_band(
    voltage_v: float, u_voltage_v: float, battery: BatteryCard, temperature_c: float | None = None
) -> ChargeBand:
    """The band of charge that a rest voltage leaves open.

    Args:
        voltage_v: at the posts, at rest.
        u_voltage_v: its standard uncertainty.
        battery: nominal volts and chemistry; an unknown chemistry takes all of them in.
        temperature_c: of the battery; None: the table's own temperature, give or take 15 °C.

    Raises:
        ValueError: the battery is no lead-acid one: the tables do not hold for it.
    """
    if not battery.lead_acid:
        raise ValueError(f"the tables of rest volts are for lead-acid batteries ({battery.kind})")
    scale = 12.0 / battery.nominal_voltage_v
    at_12_v, u = voltage_v * scale, 2.0 * u_voltage_v * scale
    if temperature_c is None:
        u += 0.024 * 2.7
    else:
        at_12_v += temperature_correction_v(temperature_c)
    shifts = list(_SHIFT_V.values()) if battery.chemistry is None else [_SHIFT_V[battery.chemistry]]
    least_shift, most_shift = min(low for low, _ in shifts), max(high for _, high in shifts)
    return ChargeBand(
        low=_share(at_12_v - u - most_shift, highest_table=True),
        high=_share(at_12_v + u - least_shift, highest_table=False),
    )


def _share(voltage_v: float, *, highest_table: bool) -> float:
    """Share of charge by the highest or by the lowest of the published tables."""
    side = 1 if highest_table else 0
    shares = [step / _STEPS for step in range(_STEPS + 1)]
    for share in shares:
        spread = _SPREAD_EMPTY_V[side] + share * (_SPREAD_FULL_V[side] - _SPREAD_EMPTY_V[side])
        if voltage_v < table_voltage_v(share) + spread:
            return max(0.0, share - 1.0 / _STEPS)
    return 1.0
