"""Lamps straight on a winding of their own: what AC they get, and what they take from the engine."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .alternator import Winding

__all__ = ["LampCircuit"]

_NOMINAL_V = 12.0


@dataclass(frozen=True)
class LampCircuit:
    """A winding behind its resistance and inductance, with lamps as one resistor across it."""

    winding: Winding
    lamps_a: float
    """Of all lamps together at 12 V."""

    @property
    def lamp_ohm(self) -> float:
        """Infinite without lamps."""
        return _NOMINAL_V / self.lamps_a if self.lamps_a > 0.0 else math.inf

    def lit_v(self, speed_rpm: float) -> float:
        """Volts across the lamps, rms: the voltage divider of winding and lamps."""
        open_v = self.winding.open_circuit_v(speed_rpm)
        if not math.isfinite(self.lamp_ohm):
            return open_v
        reactance = math.tau * self.winding.frequency_hz(speed_rpm) * self.winding.effective_inductance_h
        whole = math.hypot(self.lamp_ohm + self.winding.terminal_ohm, reactance)
        return open_v * self.lamp_ohm / whole

    def power_w(self, speed_rpm: float) -> float:
        """What the lamps take."""
        return self.lit_v(speed_rpm) ** 2 / self.lamp_ohm if math.isfinite(self.lamp_ohm) else 0.0
