"""The lag against the Cramér-Rao bound: good, and not too good to be true.

Issue 3 asks for 1.5 times the bound over 2,000 runs and calls less than 0.95 of it too good to be true.
``python -m tests.benchmarks.lag_bound`` makes the 2,000 runs; here are 300, whose standard deviation is
itself uncertain by 1/sqrt(2 x 300) = 4 %, so that the limits are 1.5 and 0.95 less two such deviations.
"""

from __future__ import annotations

import numpy as np
import pytest

from daq.align.lag import LagPrior, estimate_lag
from daq.align.revolution_table import RevolutionTable
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import CountedRows, rated_output
from daq.verdict.judge import judge
from tests.daq.verdict.builders import evidence_of
from tests.outside.lag_records import (
    PRIOR,
    STEP_S,
    VOLTS_PER_RPM,
    Estimates,
    many_estimates,
    one_sine,
    twelve_harmonics,
)
from tests.outside.published import held_against

RUNS = 300
SPREAD = 1.0 / (2.0 * RUNS) ** 0.5
TRUE_LAG_S = 0.237


@pytest.fixture(scope="module", params=[False, True], ids=["known reference", "both noisy"])
def twelve(request: pytest.FixtureRequest) -> tuple[Estimates, float]:
    record = twelve_harmonics()
    both = bool(request.param)
    return many_estimates(record, TRUE_LAG_S, RUNS, both_noisy=both), record.bound_s(both_noisy=both)


@held_against("L1", "L3")
def test_bound_of_one_sine() -> None:
    """Sample form and closed form agree, and come to the value computed for A = 1, sigma = 0.1."""
    record = one_sine()
    attenuation = float(np.sinc(0.5 * STEP_S))
    bound = record.bound_s(both_noisy=False) * attenuation
    closed = (2.0 * 0.1**2 / (400 * 1.0**2)) ** 0.5 / (2.0 * np.pi * 0.5)
    assert closed == pytest.approx(2.2508e-3, abs=5e-8)
    assert bound == pytest.approx(closed, rel=1e-9)


@held_against("L3")
def test_one_sine_reaches_its_bound() -> None:
    record = one_sine()
    found = many_estimates(record, TRUE_LAG_S, 120, both_noisy=False)
    ratio = float(np.std(found.error_s)) / record.bound_s(both_noisy=False)
    spread = 1.0 / (2.0 * 120) ** 0.5
    assert 0.95 - 2.0 * spread < ratio < 1.5


@held_against("L2", "L4")
def test_twelve_harmonics_reach_the_bound(twelve: tuple[Estimates, float]) -> None:
    found, bound_s = twelve
    assert found.determined.all()
    ratio = float(np.sqrt(np.mean(np.square(found.error_s)))) / bound_s
    assert ratio < 1.5
    assert ratio > 0.95 - 2.0 * SPREAD, "better than the bound allows: too good to be true"


@held_against("L4")
def test_twelve_harmonics_are_not_biased(twelve: tuple[Estimates, float]) -> None:
    """Our own correlation was off by less than 0.05 ms over 2000 runs; 300 runs see three deviations."""
    found, bound_s = twelve
    assert abs(float(np.mean(found.error_s))) < 3.0 * bound_s / RUNS**0.5 + 0.05e-3


@held_against("L1")
def test_stated_uncertainty_is_that_of_the_errors(twelve: tuple[Estimates, float]) -> None:
    found, _ = twelve
    actual = float(np.std(found.error_s))
    assert 0.85 < float(np.median(found.u_s)) / actual < 1.3
    assert np.mean(np.abs(found.error_s) < 3.0 * found.u_s) > 0.98


@held_against("L5")
def test_a_delay_that_is_no_whole_number_of_samples() -> None:
    """A band-limited record shifted by 0.37 sample through its Fourier phase, without noise."""
    record = twelve_harmonics()
    volts = VOLTS_PER_RPM * record.speed(record.times)
    spectrum = np.fft.rfft(volts)
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(record.count, STEP_S) * 0.37 * STEP_S)
    shifted = np.fft.irfft(spectrum * turn, record.count)
    tach_t = np.asarray(STEP_S * np.arange(-30, record.count + 30), dtype=np.float64)
    table = RevolutionTable.of(
        tach_t, record.speed(tach_t), model="contiguous", period_s=STEP_S, max_gap_s=2.6 * STEP_S
    )
    found = estimate_lag(table, record.times, shifted, window_s=STEP_S, prior=PRIOR)
    assert found.determined
    assert found.lag_s / STEP_S == pytest.approx(0.37, abs=0.02)


@pytest.mark.parametrize("noise_rpm", [0.0, 1.0, 30.0])
@held_against("L6")
def test_a_steady_record_holds_no_lag(noise_rpm: float) -> None:
    rng = np.random.default_rng(6)
    t = np.asarray(STEP_S * np.arange(400), dtype=np.float64)
    speed = 3600.0 + noise_rpm * rng.normal(size=400)
    volts = VOLTS_PER_RPM * 3600.0 + VOLTS_PER_RPM * noise_rpm * rng.normal(size=400)
    table = RevolutionTable.of(t, speed, model="contiguous", period_s=STEP_S, max_gap_s=2.6 * STEP_S)
    found = estimate_lag(table, t, volts, window_s=STEP_S, prior=LagPrior(), resolution_v=0.01)
    assert not found.determined
    assert found.u_s == LagPrior().u_s
    # Nothing is reported, and the rated output carries what the unknown lag can cost: nothing, at no slope.
    limits = InstrumentLimits(known=True, share=0.005, counts=2.0, digit=0.01)
    rows = CountedRows(t, volts, speed, np.zeros(400))
    output = rated_output(rows, 3600.0, found, limits, limits)
    assert output is not None
    result = judge(output, evidence_of(lag=found, lag_u_s=found.u_s))
    assert result.lag_s is None
    assert result.lag_u_s is None
    lag_line = next(c for c in output.budget.contributions if c.name.startswith("lag"))
    assert lag_line.output_uncertainty == 0.0
