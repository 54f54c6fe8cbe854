"""The quick search for the shift of long logs finds what trying every shift finds."""

from __future__ import annotations

import numpy as np
import pytest

from daq.align import lag
from daq.align.lag import LagEstimate, estimate_lag
from daq.align.pairing import prior_from_logs
from daq.align.revolution_table import RevolutionTable

SPAN_S = 240.0
STEP_S = 0.02


def hunting(rng: np.random.Generator, t: np.ndarray) -> np.ndarray:
    return (
        3300.0 + 150.0 * np.sin(0.8 * t + 3.0 * np.sin(0.01 * t)) + 0.5 * np.cumsum(rng.normal(size=len(t)))
    )


def sweeps(rng: np.random.Generator, t: np.ndarray) -> np.ndarray:
    return 2700.0 + 900.0 * np.sin(2.0 * np.pi * t / rng.uniform(25.0, 35.0))


def steps(rng: np.random.Generator, t: np.ndarray) -> np.ndarray:
    levels = rng.uniform(2000.0, 3600.0, int(t[-1] / 12.0) + 2)
    return np.asarray(np.interp(t, 12.0 * np.arange(len(levels)), levels))


def estimate(engine: str, seed: int, shift_s: float) -> LagEstimate:
    rng = np.random.default_rng(seed)
    rpm = {"hunting": hunting, "sweeps": sweeps, "steps": steps}[engine](rng, np.arange(0.0, SPAN_S, STEP_S))

    def means(at_s: np.ndarray, window_s: float) -> np.ndarray:
        return np.array([rpm[round((t - window_s) / STEP_S) : round(t / STEP_S)].mean() for t in at_s])

    tach_t, meter_t = np.arange(0.5, SPAN_S, 0.5), np.arange(0.4, SPAN_S, 0.4)
    speed = means(tach_t, 0.5) + rng.normal(0.0, 1.0, len(tach_t))
    cooling = 1.0 - 0.03 * meter_t / SPAN_S
    volts = means(meter_t, 0.4) / 180.0 * cooling + rng.normal(0.0, 0.01, len(meter_t))
    stamps = np.sort(meter_t + shift_s + rng.normal(0.0, 0.03, len(meter_t)))
    table = RevolutionTable.of(tach_t, speed, model="contiguous", period_s=0.5, max_gap_s=1.3)
    prior = prior_from_logs(tach_t, stamps)
    return estimate_lag(table, stamps, volts, window_s=0.4, prior=prior, resolution_v=0.01)


@pytest.mark.parametrize("engine", ["hunting", "sweeps", "steps"])
@pytest.mark.parametrize("shift_s", [0.3, -41.7])
def test_the_quick_search_finds_what_trying_every_shift_finds(
    engine: str, shift_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    found: list[LagEstimate] = []
    for most in (0, 10**12):
        monkeypatch.setattr(lag, "_TRIED_ONE_BY_ONE", most)
        found.append(estimate(engine, 5, shift_s))
    assert found[0] == found[1]
    if engine != "sweeps":  # whose shifts repeat themselves, and none is picked
        assert not found[0].rivals_s
        assert abs(found[0].lag_s - (shift_s - 0.05)) < 0.02
