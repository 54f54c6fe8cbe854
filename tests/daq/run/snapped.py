"""Runs in which the throttle is snapped within 0.1 s, as instruments of several rates would show them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.run.channels import RunData
from tests.daq.run.builders import K
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]

TOP_RPM = 3570.0
_SECONDS = 45.0
_FINE_S = 0.002


@dataclass(frozen=True)
class Snap:
    """One snap from a steady speed to a multiple of it, the higher one near rated speed."""

    factor: float
    at_s: float
    held_s: float | None = None
    """After which it is snapped back; None for never."""
    tach_hz: float = 2.0
    meter_hz: float = 2.5
    lag_s: float = 0.2
    one_turn: bool = False
    """The tach shows the speed of its newest turn, and not the mean since the reading before."""
    own_clocks: bool = False
    followed: bool = True
    """The volts follow; if not, the tach begins to count wrongly at that moment."""

    def speed(self, t: Floats, *, snapped: bool = True) -> Floats:
        low = TOP_RPM / max(self.factor, 1.0 / self.factor)
        before, after = (low, TOP_RPM) if self.factor > 1.0 else (TOP_RPM, low)
        takes_s = 0.1 if self.followed else 0.001
        up = np.clip((t - self.at_s) / takes_s, 0.0, 1.0)
        back = 0.0 if self.held_s is None else np.clip((t - self.at_s - self.held_s) / takes_s, 0.0, 1.0)
        level = before + (after - before) * (up - back) if snapped else np.full(len(t), TOP_RPM)
        phases = np.random.default_rng(5).uniform(0.0, 6.0, 5)
        hunting = sum(
            np.sin(2.0 * np.pi * t / s + p) for s, p in zip((23.0, 13.1, 7.7, 5.3, 3.9), phases, strict=True)
        )
        return np.asarray(level * (1.0 + 0.0017 * hunting))

    def run(self) -> RunData:
        fine = np.arange(-3.0, _SECONDS + 3.0, _FINE_S)
        rng = np.random.default_rng(0)
        shown = self.speed(fine)
        true = shown if self.followed else self.speed(fine, snapped=False)
        speed_t, volts_t = self._times(self.tach_hz, rng), self._times(self.meter_hz, rng)
        window = 60.0 / np.interp(speed_t, fine, shown) if self.one_turn else 1.0 / self.tach_hz
        speed = np.round(_mean(fine, shown, speed_t, window))
        volts = K * _mean(fine, true, volts_t, min(1.0 / self.meter_hz, 0.4)) + rng.normal(
            0.0, 0.01, len(volts_t)
        )
        data = run_of(
            (_late(volts_t + self.lag_s, rng), np.round(volts, 2)),
            (_late(speed_t, rng), speed),
            machine=machine_of(3600.0, 20.0),
        )
        if not self.own_clocks:
            return data
        parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
        return replace(data, channels=tuple(parts), imported=True)

    def _times(self, hz: float, rng: np.random.Generator) -> Floats:
        return np.asarray(np.arange(1.0 + rng.uniform(0.0, 1.0 / hz), _SECONDS, 1.0 / hz), dtype=np.float64)


def _mean(fine: Floats, speed: Floats, end_s: Floats, window_s: Floats | float) -> Floats:
    turns = np.concatenate(([0.0], np.cumsum(speed[:-1] * _FINE_S)))
    return np.asarray((np.interp(end_s, fine, turns) - np.interp(end_s - window_s, fine, turns)) / window_s)


def _late(time_s: Floats, rng: np.random.Generator) -> Floats:
    return np.asarray(np.maximum.accumulate(time_s + rng.uniform(0.0, 0.03, len(time_s))))
