"""The regulator-rectifier: a bridge of four diodes, and a regulator in series that holds back.

The regulator is of the series kind: below its set voltage it lets every half
wave through; above it holds half waves back, and the winding then runs
unloaded. On average it passes a share of what the bridge could deliver.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .alternator import Winding
from .waveform import AT_REST, Branch, Wave, settle

__all__ = ["Bridge", "Output", "passed_share"]

_SET_V = 14.4
_BAND_V = 0.4


def passed_share(battery_v: float, set_v: float = _SET_V) -> float:
    """Share of the half waves that the regulator lets through at ``battery_v``: 1 below, 0 above its band."""
    return min(1.0, max(0.0, (set_v + 0.5 * _BAND_V - battery_v) / _BAND_V))


@dataclass(frozen=True)
class Output:
    """What the bridge delivers with every half wave let through."""

    mean_a: float
    """Into battery and loads."""
    rms_a: float
    """The same current's rms, for ripple."""
    winding_v: float
    """Volts between the stator's leads while loaded, rms."""
    winding_dc_v: float = 0.0
    """Their mean: the winding's resistance times the mean of its current, which is nothing where both half
    waves are alike."""


@dataclass(frozen=True)
class Bridge:
    """Four diodes, each a fixed drop and a resistance, and the wires to the battery; or one diode in the lead."""

    diode_v: float = 0.86
    diode_ohm: float = 0.02
    wiring_ohm: float = 0.02
    one_diode_open: bool = False
    dead: bool = False
    """Nothing comes out: dead itself, or cut off from the battery by which it knows its volts."""
    set_v: float = _SET_V
    """Volts at which half waves are held back; infinite without a regulator."""
    half_wave: bool = False
    """One diode in the lead of a winding whose other end is grounded."""

    def output(
        self,
        winding: Winding,
        speed_rpm: float,
        battery_emf_v: float,
        battery_ohm: float,
        ground_at_share: float | None = None,
    ) -> Output:
        """What comes out at a speed, into a battery of that e.m.f. and internal resistance."""
        emf_v = winding.open_circuit_v(speed_rpm)
        if self.dead:
            return Output(0.0, 0.0, emf_v)
        behind_ohm = self.wiring_ohm + battery_ohm
        if ground_at_share is not None:
            return self._grounded(winding, speed_rpm, battery_emf_v, behind_ohm, ground_at_share)
        diodes = 1.0 if self.half_wave else 2.0
        onward = (battery_emf_v + diodes * self.diode_v, behind_ohm + diodes * self.diode_ohm)
        wave = settle(
            Branch(
                emf_v,
                winding.frequency_hz(speed_rpm),
                winding.terminal_ohm,
                winding.effective_inductance_h,
                forward=onward,
                backward=None if self.one_diode_open or self.half_wave else onward,
            )
        )
        return Output(
            wave.forward_mean_a + wave.backward_mean_a,
            wave.current_rms_a,
            wave.terminal_rms_v,
            winding.terminal_ohm * (wave.backward_mean_a - wave.forward_mean_a),
        )

    def _grounded(
        self, winding: Winding, speed_rpm: float, battery_emf_v: float, behind_ohm: float, at: float
    ) -> Output:
        """Two parts, each from ground to a lead.

        The bridge's negative side is ground too. So each part feeds the battery through
        one upper diode in one half wave, and is shorted by a lower diode in the other.
        """
        parts = [self._part(winding, speed_rpm, battery_emf_v, behind_ohm, share) for share in (at, 1.0 - at)]
        return Output(
            sum(part.forward_mean_a for part in parts),
            math.hypot(*(part.forward_rms_a for part in parts)),
            sum(part.terminal_rms_v for part in parts),
            _lead_dc_v(parts[0], at * winding.terminal_ohm)
            - _lead_dc_v(parts[1], (1.0 - at) * winding.terminal_ohm),
        )

    def _part(
        self, winding: Winding, speed_rpm: float, battery_emf_v: float, behind_ohm: float, share: float
    ) -> Wave:
        if share <= 0.0:
            return AT_REST
        return settle(
            Branch(
                share * winding.open_circuit_v(speed_rpm),
                winding.frequency_hz(speed_rpm),
                share * winding.terminal_ohm,
                share * winding.effective_inductance_h,
                forward=(battery_emf_v + self.diode_v, behind_ohm + self.diode_ohm),
                backward=(self.diode_v, self.diode_ohm),
            )
        )


def _lead_dc_v(part: Wave, ohm: float) -> float:
    """Mean volts from ground to a lead: what the mean of the part's current leaves in its resistance."""
    return ohm * (part.backward_mean_a - part.forward_mean_a)
