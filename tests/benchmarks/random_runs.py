"""Random runs of an engine with a meter and a tach on it, for the benchmarks; independent of the virtual bench.

75 s; meter 2.5 readings a second over 0.4 s with 0.01 V noise and digits; tach
2 a second over 0.5 s with 1 rpm digits; unknown delays up to 0.6 s; arrival
jitter 30 ms (standard deviation, never early). The engine follows its throttle
with a time constant of 0.8 s and never stands quite still.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["KINDS", "Kind", "RandomRun", "random_run"]

Floats = NDArray[np.float64]
Kind = Literal["sweep", "steps", "hunting"]
KINDS: tuple[Kind, ...] = ("sweep", "steps", "hunting")

LENGTH_S = 75.0
RATED_RPM = 3600.0
METER_WINDOW_S, METER_INTERVAL_S = 0.4, 0.4
TACH_WINDOW_S = 0.5
_STEP_S = 0.005
_INERTIA_S = 0.8


@dataclass(frozen=True)
class RandomRun:
    """What the instruments sent and what was true."""

    volts_t: Floats
    volts: Floats
    speed_t: Floats
    speed: Floats
    rated_v: float
    lag_s: float
    row_noise: float
    """Relative scatter that noise and digits of both instruments alone make."""


def random_run(
    rng: np.random.Generator,
    kind: Kind,
    *,
    rated_v: float = 24.0,
    meter_gain: float = 1.0,
    tach_gain: float = 1.0,
) -> RandomRun:
    """One run; the gains are the instruments' own errors."""
    t = np.arange(-3.0, LENGTH_S + 3.0, _STEP_S)
    speed = _engine(rng, kind, t)
    turns = np.concatenate(([0.0], np.cumsum(speed[:-1]) * _STEP_S / 60.0))
    square = np.concatenate(([0.0], np.cumsum((rated_v / RATED_RPM * speed[:-1]) ** 2) * _STEP_S))
    meter_delay, tach_delay = rng.uniform(0.05, 0.6, 2)
    meter_end = np.arange(0.6 + rng.uniform(0.0, 0.4), LENGTH_S, METER_INTERVAL_S)
    tach_end = np.arange(0.6 + rng.uniform(0.0, 0.5), LENGTH_S, TACH_WINDOW_S)
    rms = np.sqrt(
        (np.interp(meter_end, t, square) - np.interp(meter_end - METER_WINDOW_S, t, square)) / METER_WINDOW_S
    )
    rpm = (
        60.0 * (np.interp(tach_end, t, turns) - np.interp(tach_end - TACH_WINDOW_S, t, turns)) / TACH_WINDOW_S
    )
    volts = np.round(rms * meter_gain + rng.normal(0.0, 0.01, len(rms)), 2)
    shown = np.round(rpm * tach_gain)
    volt_part = np.hypot(0.01, 0.01 / np.sqrt(12.0)) / float(np.mean(rms))
    speed_part = 1.0 / np.sqrt(12.0) / float(np.mean(rpm))
    return RandomRun(
        np.sort(meter_end + meter_delay + _late(rng, len(meter_end))),
        volts,
        np.sort(tach_end + tach_delay + _late(rng, len(tach_end))),
        shown,
        rated_v,
        (meter_delay + METER_WINDOW_S / 2.0) - (tach_delay + TACH_WINDOW_S / 2.0),
        float(np.hypot(volt_part, speed_part)),
    )


def _late(rng: np.random.Generator, n: int) -> Floats:
    return rng.uniform(0.0, 0.03 * np.sqrt(12.0), n)


def _engine(rng: np.random.Generator, kind: Kind, t: Floats) -> Floats:
    if kind == "sweep":
        period, phase = rng.uniform(15.0, 35.0), rng.uniform(0.0, 35.0)
        setting = 1900.0 + 1900.0 * np.abs(((t + phase) / period) % 1.0 * 2.0 - 1.0)
    elif kind == "steps":
        levels = rng.choice([1800.0, 2400.0, 3000.0, 3600.0, 3700.0], size=40)
        setting = levels[np.clip((t / rng.uniform(6.0, 10.0)).astype(int) + 1, 0, 39)]
    else:
        wave = 2.0 * np.pi * rng.uniform(0.1, 0.4) * t + rng.uniform(0.0, 6.0)
        setting = RATED_RPM + rng.uniform(30.0, 100.0) * np.sin(wave)
    speed = np.empty_like(t)
    speed[0] = setting[0]
    share = _STEP_S / _INERTIA_S
    for i in range(1, len(t)):
        speed[i] = speed[i - 1] + share * (setting[i] - speed[i - 1])
    return np.asarray(speed + 2.0 * np.sin(2.0 * np.pi * 0.9 * t))
