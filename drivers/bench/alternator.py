"""The winding on the stator, with magnets turning past it."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Winding", "frequency_hz"]


def frequency_hz(pole_pairs: int, speed_rpm: float) -> float:
    """Frequency of the winding's voltage: f = p·n/60 (any machines text; n = 120·f/P with P = 2·p poles).

    Raises:
        ValueError: fewer than one pole pair.
    """
    if pole_pairs < 1:
        raise ValueError(f"{pole_pairs} pole pairs can't be; a machine has at least 1.")
    return pole_pairs * speed_rpm / 60.0


@dataclass(frozen=True)
class Winding:
    """A single-phase winding, both ends brought out, none grounded.

    The coils sit on separate teeth and hardly share flux, so that a share of
    the winding has that share of its resistance and of its inductance. Within
    one coil turns do share flux; that matters where some are shorted.
    """

    volts_per_rpm: float
    """k in E = k·n, rms, all turns."""
    pole_pairs: int = 6
    resistance_ohm: float = 0.25
    inductance_h: float = 0.0008
    shorted_share: float = 0.0
    """Share of the turns shorted on itself."""
    short_contact_ohm: float = 0.02
    short_coupling: float = 0.25
    """Share of the whole winding's flux that the shorted turns' current works against."""

    def frequency_hz(self, speed_rpm: float) -> float:
        """Frequency at a speed, Hz."""
        return frequency_hz(self.pole_pairs, speed_rpm)

    def open_circuit_v(self, speed_rpm: float) -> float:
        """Terminal volts with nothing connected, rms.

        E = k·n for a sound winding. With a share s of the turns shorted the
        others give (1-s)·E, less what the circulating current takes from their
        flux: at low speed the short's resistance limits that current, at high
        speed only its inductance does, so the curve sags below the straight line::

            V = (1-s)·E·(1 - c·jωL_s/(R_s + jωL_s)),  L_s = s·L,  R_s = s·R + contact
        """
        emf_v = self.volts_per_rpm * speed_rpm
        if self.shorted_share <= 0.0:
            return emf_v
        return (
            emf_v * (1.0 - self.shorted_share) * abs(1.0 - self.short_coupling * self._short_lag(speed_rpm))
        )

    def _short_lag(self, speed_rpm: float) -> complex:
        reactance = math.tau * self.frequency_hz(speed_rpm) * self.shorted_share * self.inductance_h
        resistance = self.shorted_share * self.resistance_ohm + self.short_contact_ohm
        return 1j * reactance / (resistance + 1j * reactance)

    @property
    def terminal_ohm(self) -> float:
        """Resistance between the two leads."""
        s = self.shorted_share
        if s <= 0.0:
            return self.resistance_ohm
        shorted = s * self.resistance_ohm
        return (1.0 - s) * self.resistance_ohm + shorted * self.short_contact_ohm / (
            shorted + self.short_contact_ohm
        )

    @property
    def effective_inductance_h(self) -> float:
        """Inductance of the turns that are left to carry the load."""
        return (1.0 - self.shorted_share) * self.inductance_h
