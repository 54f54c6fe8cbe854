"""A 12 V lead-acid battery: rest voltage by state of charge, internal resistance, a slow part."""

from __future__ import annotations

import math

__all__ = ["Battery", "rest_voltage_v"]

_REST_TABLE = ((0.0, 11.89), (0.25, 12.06), (0.5, 12.24), (0.75, 12.45), (1.0, 12.65))
"""State of charge and rest volts of a flooded 12 V battery at 80 °F, as battery-trade tables give them."""


def rest_voltage_v(state_of_charge: float) -> float:
    """Volts at rest for a state of charge from 0 to 1, straight lines between the table's rows."""
    soc = min(1.0, max(0.0, state_of_charge))
    for (soc0, v0), (soc1, v1) in zip(_REST_TABLE, _REST_TABLE[1:], strict=False):
        if soc <= soc1:
            return v0 + (v1 - v0) * (soc - soc0) / (soc1 - soc0)
    return _REST_TABLE[-1][1]


class Battery:
    """State of charge, and a slow overvoltage (one RC) behind a resistance.

    Terminal volts = ``emf_v`` + ``resistance_ohm`` · current, current positive into the battery.

    Attributes:
        state_of_charge: 0 to 1.
        resistance_ohm: the part that answers at once.
    """

    def __init__(
        self, state_of_charge: float, *, capacity_ah: float = 18.0, resistance_ohm: float = 0.03
    ) -> None:
        self.state_of_charge = state_of_charge
        self.capacity_ah = capacity_ah
        self.resistance_ohm = resistance_ohm
        self._slow_ohm = 0.08
        self._slow_lag_s = 15.0
        self._slow_v = 0.0

    def take_charge_of(self, other: Battery) -> None:
        """Stand in another's place: as full as that is."""
        self.state_of_charge, self._slow_v = other.state_of_charge, other._slow_v

    @property
    def emf_v(self) -> float:
        """Volts that stand behind the internal resistance."""
        return rest_voltage_v(self.state_of_charge) + self._slow_v

    def terminal_v(self, current_a: float) -> float:
        """Volts at the posts while ``current_a`` flows in (negative: out)."""
        return self.emf_v + self.resistance_ohm * current_a

    def step(self, dt_s: float, current_a: float) -> None:
        """Let ``current_a`` flow in for ``dt_s`` seconds."""
        charged = self.state_of_charge + current_a * dt_s / 3600.0 / self.capacity_ah
        self.state_of_charge = min(1.0, max(0.0, charged))
        goal_v = self._slow_goal_v(current_a)
        self._slow_v += (goal_v - self._slow_v) * (1.0 - math.exp(-dt_s / self._slow_lag_s))

    def _slow_goal_v(self, current_a: float) -> float:
        """Towards full charge the battery takes current less willingly."""
        if current_a <= 0.0:
            return self._slow_ohm * current_a
        fullness = max(0.0, self.state_of_charge - 0.8) / 0.2
        return (self._slow_ohm + 0.6 * fullness**3) * current_a
