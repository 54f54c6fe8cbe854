"""What is connected to the battery on the invented machine, the spray cart of a plant nursery."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["NURSERY_SPRAYER_LOADS", "Loads"]

NURSERY_SPRAYER_LOADS: dict[str, float] = {
    "controller": 0.4,
    "spray_pump": 3.6,
    "work_lamp": 2.2,
}
"""Name and amps at ``Loads.nominal_v``."""


@dataclass
class Loads:
    """Loads behave as resistors: amps rise with the volts."""

    amps: dict[str, float] = field(default_factory=lambda: dict(NURSERY_SPRAYER_LOADS))
    switched_off: set[str] = field(default_factory=set)
    nominal_v: float = 12.8
    _kept: tuple[set[str], float] | None = None

    def current_a(self, battery_v: float) -> float:
        """Amps drawn by what is switched on, at ``battery_v`` at the battery."""
        return self._on_a() * max(0.0, battery_v) / self.nominal_v

    def _on_a(self) -> float:
        """Sum of what is on; this is asked for at every step of the physics, so it is kept."""
        if self._kept is None or self._kept[0] != self.switched_off:
            on_a = sum(amps for name, amps in self.amps.items() if name not in self.switched_off)
            self._kept = (set(self.switched_off), on_a)
        return self._kept[1]

    def switch(self, names: list[str]) -> None:
        """Have exactly these loads on.

        Raises:
            ValueError: a name that is no load of this machine.
        """
        unknown = sorted(set(names) - set(self.amps))
        if unknown:
            raise ValueError(f"There is no load {unknown[0]!r}; there are: {', '.join(self.amps)}.")
        self.switched_off = set(self.amps) - set(names)
