"""The moment of a kink within a tach window: found where the engine allows it, and harmless where not.

The engines here are closed forms or integrated on the spot, other than those of the benchmarks.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from daq.align import revolutions
from daq.align.kink_moments import find_kinks
from daq.align.revolution_table import RevolutionTable
from tests.daq.align.builders import engine
from tests.daq.align.test_kink import Turns, ramp, step
from tests.daq.align.test_streaming import Streams, at_once, chunked, parameters, same_bits

Floats = NDArray[np.float64]
Engine = Callable[[Floats], Floats]

TACH_S, METER_S, STEP_S = 0.5, 0.4, 0.005


def read(turns: Turns, phase_s: float, noise_rpm: float = 0.0, seed: int = 1) -> tuple[Floats, Floats]:
    """Middles of a tach's windows, and what it reads."""
    edges = np.arange(-8.0, 12.0, TACH_S) + phase_s
    speed = 60.0 * np.diff(turns(edges)) / TACH_S
    if noise_rpm:
        speed = np.round(speed + np.random.default_rng(seed).normal(0.0, noise_rpm, len(speed)))
    return 0.5 * (edges[1:] + edges[:-1]), speed


def worst_rpm(turns: Turns, phase_s: float, noise_rpm: float = 0.0) -> float:
    """Largest error of the mean speed over a meter's windows around a kink at 0."""
    time_s, speed = read(turns, phase_s, noise_rpm)
    table = RevolutionTable.of(time_s, speed, model="contiguous", period_s=TACH_S, max_gap_s=1.3)
    ends = np.arange(-3.0, 5.0, 0.02)
    true = 60.0 * (turns(ends) - turns(ends - METER_S)) / METER_S
    return float(np.max(np.abs(table.window_means(ends, METER_S).speed_rpm - true)))


def without(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw through every window with one polynomial."""
    monkeypatch.setattr(revolutions, "find_kinks", lambda length, *_, **__: (None, len(length)))


@pytest.mark.parametrize("turns", [step(0.6), step(1.1), step(2.5), ramp(4.0)])
def test_a_kink_is_found_at_any_place_in_its_window(turns: Turns, monkeypatch: pytest.MonkeyPatch) -> None:
    phases = np.linspace(0.0, TACH_S, 26)[:-1]
    found = [worst_rpm(turns, phase) for phase in phases]
    noisy = [worst_rpm(turns, phase, 0.3) for phase in phases]
    for phase in phases:
        time_s, speed = read(turns, phase)
        kinks, undecided = find_kinks(np.full(len(speed), TACH_S), speed, speed < 0.0, ended=True)
        assert kinks is not None
        assert undecided == len(speed)
        moments = time_s[kinks.cell] + (kinks.share - 0.5) * TACH_S
        # In the last quarter of a window a kink hardly shows there, and goes to the edge.
        assert float(np.min(np.abs(moments))) < 0.25 * TACH_S
    without(monkeypatch)
    plain = [worst_rpm(turns, phase) for phase in phases]
    # Of a 1000 rpm step some tens of rpm were wrong.
    assert max(found) < max(0.15 * max(plain), 3.0)
    # A kink of 250 rpm a second may hide in the noise.
    assert max(noisy) < max(0.3 * max(plain), 8.0)


def test_revolutions_stay_those_that_were_counted() -> None:
    time_s, speed = read(step(0.8), 0.17, 0.3)
    table = RevolutionTable.of(time_s, speed, model="contiguous", period_s=TACH_S, max_gap_s=1.3)
    inside = time_s[1:-1]
    means = table.window_means(inside + 0.5 * TACH_S, TACH_S).speed_rpm
    np.testing.assert_allclose(means, speed[1:-1], rtol=1e-9)
    around = np.arange(-3.0, 4.0, 0.001)
    tiny = table.window_means(around, 0.001).speed_rpm
    # No jump of the speed larger than what a step of the engine makes of itself.
    assert float(np.max(np.abs(np.diff(tiny)))) < 20.0


def _lag(wish: Floats, seconds: float) -> Floats:
    out, keep = np.empty_like(wish), float(np.exp(-STEP_S / seconds))
    out[0] = wish[0]
    for i in range(1, len(wish)):
        out[i] = keep * out[i - 1] + (1.0 - keep) * wish[i]
    return out


def _slew(wish: Floats, rpm_s: float) -> Floats:
    out = np.empty_like(wish)
    out[0] = wish[0]
    for i in range(1, len(wish)):
        out[i] = out[i - 1] + min(max(wish[i] - out[i - 1], -rpm_s * STEP_S), rpm_s * STEP_S)
    return out


def _governed(wish: Floats) -> Floats:
    """Overshoots and rings."""
    out = np.empty_like(wish)
    speed, rate = wish[0], 0.0
    for i in range(len(wish)):
        rate += (9.0 * (wish[i] - speed) - 2.1 * rate) * STEP_S
        speed += rate * STEP_S
        out[i] = speed
    return out


ENGINES: dict[str, tuple[Engine, float]] = {
    "first order, 0.8 s": (lambda w: _lag(w, 0.8), 0.25),
    "first order, 2 s": (lambda w: _lag(w, 2.0), 0.4),
    "throttle moved in a tenth of a second": (lambda w: _lag(_lag(w, 0.1), 0.6), 0.6),
    "bounded, 500 rpm a second": (lambda w: _slew(w, 500.0), 1.0),
    "bounded, 1500 rpm a second": (lambda w: _slew(w, 1500.0), 1.02),
    "slow throttle": (lambda w: _lag(_slew(w, 2000.0), 0.8), 1.02),
    "second order": (lambda w: _lag(_lag(w, 0.3), 0.6), 1.02),
    "rings": (_governed, 1.02),
    "quick": (lambda w: _lag(w, 0.3), 1.02),
}


def _steps(engine: Engine, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Time and speed of a run with a new throttle every 6 to 10 s."""
    t = np.arange(0.0, 70.0, STEP_S)
    levels = rng.choice([1800.0, 2400.0, 3000.0, 3600.0, 3700.0], 40)
    return t, engine(levels[(t / rng.uniform(6.0, 10.0)).astype(int)])


def _rms_share(t: Floats, speed: Floats, rng: np.random.Generator) -> float:
    turns = np.concatenate(([0.0], np.cumsum(speed[:-1]) * STEP_S / 60.0))
    edges = np.arange(0.6 + rng.uniform(0.0, 0.5), 69.0, TACH_S)
    shown = np.round(
        60.0 * np.diff(np.interp(edges, t, turns)) / TACH_S + rng.normal(0.0, 0.3, len(edges) - 1)
    )
    ends = np.arange(3.0, 66.0, 0.4)
    true = 60.0 * (np.interp(ends, t, turns) - np.interp(ends - METER_S, t, turns)) / METER_S
    table = RevolutionTable.of(
        0.5 * (edges[1:] + edges[:-1]), shown, model="contiguous", period_s=TACH_S, max_gap_s=1.3
    )
    return float(np.sqrt(np.mean(np.square(table.window_means(ends, METER_S).speed_rpm / true - 1.0))))


@pytest.mark.parametrize("name", ENGINES)
def test_engines_of_any_kind_are_drawn_better_or_as_before(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine, most = ENGINES[name]
    seeds = range(6)
    runs = [_steps(engine, np.random.default_rng(40 + seed)) for seed in seeds]

    def pooled() -> float:
        shares = [
            _rms_share(*run, np.random.default_rng(seed)) for seed, run in zip(seeds, runs, strict=True)
        ]
        return float(np.sqrt(np.mean(np.square(shares))))

    found = pooled()
    without(monkeypatch)
    assert found < most * pooled()


def test_a_smooth_speed_has_no_kinks() -> None:
    rng = np.random.default_rng(9)
    t = TACH_S * np.arange(200)
    for _ in range(60):
        wave = 2.0 * np.pi * rng.uniform(0.02, 0.4)
        smooth = 3300.0 + rng.uniform(0.0, 300.0) * np.sin(wave * t + rng.uniform(0.0, 6.0))
        speed = np.round(smooth + rng.normal(0.0, rng.uniform(0.0, 5.0), len(t)))
        kinks, _ = find_kinks(np.full(len(t), TACH_S), speed, speed < 0.0, ended=True)
        assert kinks is None or len(kinks.cell) <= 1


def kinked(seed: int, gone: list[int]) -> Streams:
    """Steps of the throttle in forty seconds of readings, some of them missing."""
    rng = np.random.default_rng(seed)
    speed_t = np.delete(np.asarray(0.3 + TACH_S * np.arange(80), dtype=np.float64), gone)
    volts_t = np.asarray(0.1 + 0.4 * np.arange(100), dtype=np.float64)
    speed = engine("steps", 45.0, rng).mean_rpm(speed_t + 0.5 * TACH_S, TACH_S)
    shown: Floats = np.round(speed + rng.normal(0.0, 0.3, len(speed)))
    return speed_t, shown, volts_t, np.full(100, 20.0)


@given(
    seed=st.integers(0, 200),
    gone=st.lists(st.integers(0, 79), max_size=3, unique=True),
    edges=st.lists(st.floats(0.0, 42.0), max_size=60),
    skew_s=st.floats(-0.9, 0.9),
    lag_s=st.sampled_from([-0.5, 0.0, 0.15, 0.62]),
)
@settings(max_examples=150, deadline=None)
def test_kinks_are_the_same_in_any_chunking(
    seed: int, gone: list[int], edges: list[float], skew_s: float, lag_s: float
) -> None:
    columns = kinked(seed, gone)
    p = parameters("contiguous", lag_s)
    same_bits(chunked(p, columns, edges, skew_s), at_once(p, columns))


def test_the_runs_with_kinks_have_kinks() -> None:
    """Else the test of chunks would say nothing."""
    found = 0
    for seed in range(30):
        speed = kinked(seed, [])[1]
        kinks, _ = find_kinks(np.full(len(speed), TACH_S), speed, speed < 0.0, ended=True)
        found += 0 if kinks is None else len(kinks.cell)
    assert found > 50
