"""What the machine on the bench is made of; the defaults are the invented nursery's spray cart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .loads import NURSERY_SPRAYER_LOADS

__all__ = ["HEALTHY_RATED_V", "Build"]

HEALTHY_RATED_V = 28.0
"""Typical unloaded rms volts of a healthy cart at the test speed; each differs a little by its seed."""

_COPPER_K_C = 234.5
"""Copper's resistance goes with k + temperature (IEEE 112's constant)."""
_MAGNETS_A_DEGREE = -0.002
"""Ferrite magnets lose about 0.2 % of their flux for each degree: common practice, no source."""
_ELECTROLYTE_A_DEGREE = -0.01
"""A lead-acid battery's resistance, by about 1 % for each degree: common practice, no source."""


@dataclass(frozen=True)
class Build:
    """A sound machine of some kind, and its instruments."""

    alternator: str = "regulated"
    """Its kind, as in :mod:`drivers.bench.kinds`."""
    rated_v: float = HEALTHY_RATED_V
    """Unloaded rms volts at the test speed, at 20 °C."""
    pole_pairs: int = 6
    resistance_ohm: float = 0.25
    """Of the winding at 20 °C."""
    inductance_h: float = 0.0008
    wiring_ohm: float = 0.02
    regulator_set_v: float = 14.4
    capacity_ah: float = 18.0
    battery_ohm: float = 0.03
    """Of a 12 V battery at 20 °C, the part that answers at once."""
    loads_a: Mapping[str, float] = field(default_factory=lambda: dict(NURSERY_SPRAYER_LOADS))
    lamps_a: float = 0.0
    """Lamps at 12 V AC, straight on a winding: on one of their own, or on the only one where nothing is charged."""
    temperature_c: float = 20.0
    """Of the whole machine."""
    meter_noise_counts: float = 0.5
    meter_lead_ohm: float = 0.02

    @property
    def winding_ohm(self) -> float:
        """At the machine's temperature."""
        return self.resistance_ohm * (_COPPER_K_C + self.temperature_c) / (_COPPER_K_C + 20.0)

    @property
    def warm_rated_v(self) -> float:
        """Unloaded volts with the magnets at the machine's temperature."""
        return self.rated_v * (1.0 + _MAGNETS_A_DEGREE * (self.temperature_c - 20.0))

    @property
    def warm_battery_ohm(self) -> float:
        """The battery's resistance at its temperature."""
        return self.battery_ohm * max(0.3, 1.0 + _ELECTROLYTE_A_DEGREE * (self.temperature_c - 20.0))
