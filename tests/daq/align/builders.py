"""An engine, an alternator, and what a meter and a tach with windows and delays make of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Kind = Literal["sweep", "steps", "hunting", "governor", "ramp", "steady"]

VOLTS_PER_RPM = 24.0 / 3600.0
_DT = 0.005
_BEFORE_S = 3.0


@dataclass(frozen=True)
class Engine:
    """True speed on a fine grid."""

    time_s: Floats
    speed_rpm: Floats

    def mean_rpm(self, end_s: Floats, window_s: float) -> Floats:
        """Mean speed over windows that end at these moments: what a counting tach sees."""
        turns = np.concatenate(([0.0], np.cumsum(self.speed_rpm[:-1] * _DT)))
        after, before = (np.interp(t, self.time_s, turns) for t in (end_s, end_s - window_s))
        return np.asarray((after - before) / window_s)

    def rms_rpm(self, end_s: Floats, window_s: float) -> Floats:
        """Root mean square of the speed over windows: what a true-rms meter sees of volts in proportion."""
        square = np.concatenate(([0.0], np.cumsum(np.square(self.speed_rpm[:-1]) * _DT)))
        after, before = (np.interp(t, self.time_s, square) for t in (end_s, end_s - window_s))
        return np.sqrt((after - before) / window_s)


def engine(kind: Kind, seconds: float, rng: np.random.Generator, rated_rpm: float = 3600.0) -> Engine:
    """A random throttle on an engine with 0.8 s of inertia.

    A sweep goes up and down between half and all of rated speed, steps change
    every 6 to 10 s, a hunting governor swings by 30 to 100 rpm in 2.5 to 10 s;
    that of kind "governor" by 60 to 140 rpm in 1 to 2 s and never quite evenly.
    """
    t = np.arange(-_BEFORE_S, seconds + _BEFORE_S, _DT)
    if kind == "sweep":
        turn_s = rng.uniform(15.0, 35.0)
        saw = np.abs(((t + rng.uniform(0.0, turn_s)) / turn_s) % 1.0 * 2.0 - 1.0)
        wish = rated_rpm * (0.53 + 0.53 * saw)
    elif kind == "steps":
        levels = rng.choice([0.5, 0.67, 0.83, 1.0, 1.03], size=200) * rated_rpm
        wish = levels[np.clip((t / rng.uniform(6.0, 10.0)).astype(int) + 1, 0, 199)]
    elif kind == "hunting":
        swing = rng.uniform(30.0, 100.0)
        phase = 2.0 * np.pi * rng.uniform(0.1, 0.4) * t + rng.uniform(0.0, 6.28)
        wish = rated_rpm + swing * np.sin(phase)
    elif kind == "governor":
        swing, hz = rng.uniform(60.0, 140.0), rng.uniform(0.5, 1.0)
        uneven = 0.8 * np.sin(2.0 * np.pi * rng.uniform(0.05, 0.15) * t + rng.uniform(0.0, 6.28))
        return Engine(t, rated_rpm + swing * np.sin(2.0 * np.pi * hz * t + uneven))
    elif kind == "ramp":
        wish = rated_rpm * (0.55 + np.clip(t, 0.0, None) * rng.uniform(0.0035, 0.0068))
    else:
        wish = np.full(len(t), rated_rpm)
    speed = _with_inertia(wish, 0.8)
    if kind != "steps":
        speed = speed + 2.0 * np.sin(2.0 * np.pi * 0.9 * t)
    return Engine(t, speed)


def _with_inertia(wish: Floats, seconds: float) -> Floats:
    from scipy.signal import lfilter

    keep = float(np.exp(-_DT / seconds))
    slow, _ = lfilter([1.0 - keep], [1.0, -keep], wish, zi=[wish[0] * keep])
    return np.asarray(slow)


@dataclass(frozen=True)
class Run:
    """What arrives, and what is true."""

    volts_t: Floats
    volts: Floats
    speed_t: Floats
    speed: Floats
    lag_s: float
    """Truth: centre of the meter's window to centre of the tach's, delays in it."""
    volts_window_end_s: Floats
    """Truth: where each volts reading's window ended on the engine's time."""
    engine: Engine


@dataclass(frozen=True)
class Instruments:
    """Pace, window and noise of both; errors as shares of the reading."""

    volts_pace_s: float = 0.4
    volts_window_s: float = 0.4
    volts_noise_v: float = 0.01
    volts_digit_v: float = 0.01
    volts_error: float = 0.0
    volts_error_counts: float = 0.0
    speed_pace_s: float = 0.5
    speed_window_s: float = 0.5
    speed_noise_rpm: float = 0.3
    speed_digit_rpm: float = 1.0
    speed_error: float = 0.0
    speed_error_counts: float = 0.0
    jitter_s: float = 0.03
    longest_delay_s: float = 0.6
    volts_per_rpm: float = VOLTS_PER_RPM


def random_run(
    kind: Kind, rng: np.random.Generator, seconds: float = 75.0, tools: Instruments | None = None
) -> Run:
    """One run of the kind the figures are asked for."""
    tools = tools or Instruments()
    true = engine(kind, seconds, rng)
    volts_late, speed_late = rng.uniform(0.05, tools.longest_delay_s, 2)
    volts_end = np.arange(0.6 + rng.uniform(0.0, tools.volts_pace_s), seconds, tools.volts_pace_s)
    volts = true.rms_rpm(volts_end, tools.volts_window_s) * tools.volts_per_rpm
    volts = volts * (1.0 + tools.volts_error) + tools.volts_error_counts * tools.volts_digit_v
    volts = _shown(volts + rng.normal(0.0, tools.volts_noise_v, len(volts)), tools.volts_digit_v)
    speed_end = np.arange(0.6 + rng.uniform(0.0, tools.speed_pace_s), seconds, tools.speed_pace_s)
    speed = true.mean_rpm(speed_end, tools.speed_window_s)
    speed = speed * (1.0 + tools.speed_error) + tools.speed_error_counts * tools.speed_digit_rpm
    speed = _shown(speed + rng.normal(0.0, tools.speed_noise_rpm, len(speed)), tools.speed_digit_rpm)
    # Jitter is uniform, with the standard deviation asked for; its mean is part of the delay.
    width = tools.jitter_s * 12.0**0.5
    arrivals = [
        np.sort(end + late + rng.uniform(0.0, width, len(end)))
        for end, late in ((volts_end, volts_late), (speed_end, speed_late))
    ]
    lag = (volts_late + 0.5 * tools.volts_window_s) - (speed_late + 0.5 * tools.speed_window_s)
    return Run(arrivals[0], volts, arrivals[1], speed, lag, volts_end, true)


def _shown(value: Floats, digit: float) -> Floats:
    return np.asarray(np.round(value / digit) * digit)
