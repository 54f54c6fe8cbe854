"""Records on which an estimator of a delay can be held against its bound.

A record is periodic over its whole length, so that its slope is square to a constant and to the record
itself: the factor and the offset, which the estimator has to find as well, then cost it nothing, and the
bound for the delay alone is the right one.

Which bound, when the reference is noisy too? Each stream is sampled evenly with white noise. The estimator
interpolates the reference, which takes noise away between its samples and links neighbours; but a delay is
read off at the record's own frequencies, far below the sampling rate, and there interpolation leaves the
noise's density as it was. So the two densities add: sigma² becomes sigma_1² + sigma_2² (L2). An estimate
better than that would have used something it can't know.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.lag import LagPrior, estimate_lag
from daq.align.revolution_table import RevolutionTable

Floats = NDArray[np.float64]

VOLTS_PER_RPM = 24.0 / 3600.0
MEAN_RPM = 3000.0
STEP_S = 0.1
PRIOR = LagPrior(0.2, 0.6, -0.5, 0.9)
_MARGIN = 30


@dataclass(frozen=True)
class Record:
    """Speed as a sum of sines, each (rpm, Hz, rad)."""

    sines: tuple[tuple[float, float, float], ...]
    count: int
    noise_rpm: float

    def speed(self, t: Floats, window_s: float = STEP_S) -> Floats:
        """Mean over windows around the moments, exactly."""
        parts = [a * np.sinc(f * window_s) * np.cos(2.0 * np.pi * f * t + p) for a, f, p in self.sines]
        return np.asarray(MEAN_RPM + np.sum(parts, axis=0), dtype=np.float64)

    def slope(self, t: Floats, window_s: float = STEP_S) -> Floats:
        """Rate of change of :meth:`speed`, rpm/s."""
        w = [2.0 * np.pi * f for _, f, _ in self.sines]
        parts = [
            -a * np.sinc(f * window_s) * x * np.sin(x * t + p)
            for (a, f, p), x in zip(self.sines, w, strict=True)
        ]
        return np.asarray(np.sum(parts, axis=0))

    @property
    def times(self) -> Floats:
        return np.asarray(STEP_S * np.arange(self.count), dtype=np.float64)

    def bound_s(self, *, both_noisy: bool) -> float:
        """Least standard deviation: sigma over the root of the sum of squared slopes (L1, L2)."""
        sigma = self.noise_rpm * (2.0**0.5 if both_noisy else 1.0)
        return float(sigma / np.sqrt(np.sum(np.square(self.slope(self.times)))))


def one_sine() -> Record:
    """L3: amplitude 1, 0.5 Hz, sigma 0.1, 400 samples; here times 300 rpm."""
    return Record(((300.0, 0.5, 0.3),), 400, 30.0)


def twelve_harmonics() -> Record:
    """L4: twelve harmonics over 40 s, noise 5 % of the rms."""
    rng = np.random.default_rng(7)
    size = rng.normal(size=12) / np.sqrt(np.arange(1, 13))
    size *= 300.0 * 2.0**0.5 / np.linalg.norm(size)
    phase = rng.uniform(0.0, 2.0 * np.pi, 12)
    sines = tuple((float(a), h / 40.0, float(p)) for a, h, p in zip(size, range(1, 13), phase, strict=True))
    return Record(sines, 400, 0.05 * 300.0)


@dataclass(frozen=True)
class Estimates:
    """Errors of the lag, and what was stated."""

    error_s: Floats
    u_s: Floats
    determined: NDArray[np.bool_]


def many_estimates(record: Record, lag_s: float, runs: int, *, both_noisy: bool, seed: int = 7) -> Estimates:
    """Run the project's estimator over and over on fresh noise."""
    rng = np.random.default_rng(seed)
    tach_t = np.asarray(STEP_S * np.arange(-_MARGIN, record.count + _MARGIN), dtype=np.float64)
    clean = record.speed(tach_t)
    volts = record.speed(record.times - lag_s)
    error, u, determined = np.empty(runs), np.empty(runs), np.empty(runs, dtype=np.bool_)
    for r in range(runs):
        noise = rng.normal(0.0, record.noise_rpm, len(tach_t)) if both_noisy else 0.0
        table = RevolutionTable.of(
            tach_t, clean + noise, model="contiguous", period_s=STEP_S, max_gap_s=2.6 * STEP_S
        )
        found = estimate_lag(
            table,
            record.times,
            VOLTS_PER_RPM * (volts + rng.normal(0.0, record.noise_rpm, record.count)),
            window_s=STEP_S,
            prior=PRIOR,
        )
        error[r], u[r], determined[r] = found.lag_s - lag_s, found.u_s, found.determined
    return Estimates(error, u, determined)
