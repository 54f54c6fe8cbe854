"""What a judge has before it: the machine card and the usable readings of all steps of a round."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from daq.cards.machine import MachineCard
from daq.job.evidence.observed import Observed

__all__ = ["Given", "Measured"]


@dataclass(frozen=True)
class Measured:
    """A number with its standard uncertainty."""

    value: float
    u: float


@dataclass(frozen=True)
class Given:
    """Readings by slot; those that can't be judged are not among them."""

    machine: MachineCard
    readings: Mapping[str, Observed]

    def observed(self, slot: str) -> Observed | None:
        """A slot's usable reading, or None."""
        return self.readings.get(slot)

    def value(self, slot: str) -> Measured | None:
        """A slot's number with its uncertainty; None where there is none, or over range."""
        found = self.readings.get(slot)
        if found is None or found.value is None:
            return None
        return Measured(found.value, found.u)

    @property
    def nominal_v(self) -> float:
        """The battery's nominal volts; 12 where the card does not say."""
        battery = self.machine.battery
        return float(battery.nominal_voltage_v) if battery is not None else 12.0

    @property
    def volts_scale(self) -> float:
        """What turns a 12 V rule of thumb into one for this battery."""
        return self.nominal_v / 12.0

    @property
    def loads_a(self) -> float | None:
        """Sum of the card's loads, all on; None where the card lists none."""
        loads = self.machine.load
        return sum(load.current_a for load in loads) if loads else None

    @property
    def contribution(self) -> Measured | None:
        """Amps of the alternator at test speed: those into the battery and those into the loads together.

        The loads were read with the engine stopped; at charging volts they draw
        up to a tenth more or less, which is in the uncertainty.
        """
        battery, load = self.value("current_work"), self.value("load_current")
        if battery is None or load is None:
            return None
        drawn = abs(load.value)
        u = (battery.u**2 + load.u**2 + (0.1 * drawn) ** 2 / 3.0) ** 0.5
        return Measured(battery.value + drawn, u)

    @property
    def output_a(self) -> Measured | None:
        """Amps out of the regulator-rectifier: measured there, or from battery and loads."""
        return self.value("output_current") or self.contribution

    @property
    def battery_ohm(self) -> Measured | None:
        """The battery's resistance by how far its volts give way when the loads come on."""
        rest, loaded, load = (self.value(s) for s in ("rest_voltage", "loaded_voltage", "load_current"))
        if rest is None or loaded is None or load is None or abs(load.value) < 0.5:
            return None
        sag = rest.value - loaded.value
        if sag <= 0.0:
            return None
        ohm = sag / abs(load.value)
        u = ((rest.u**2 + loaded.u**2) ** 0.5 / sag) * ohm
        return Measured(ohm, u)
