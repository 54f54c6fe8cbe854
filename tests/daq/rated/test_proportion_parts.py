"""Sag and hysteresis: which rows each compares."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.rated.proportion import Proportion, _held, _hysteresis, _sag, _usual_ratio, examine_proportion

Floats = NDArray[np.float64]


def hysteresis(slope: Floats, residual: Floats) -> float | None:
    return _hysteresis(residual, slope, 1.0)[0]


def test_hysteresis_compares_the_fastest_rises_with_the_fastest_falls() -> None:
    """Two rows in five move fast: +0.3 V going up, -0.1 V going down; slow ones, at +9 V, say nothing."""
    slope = np.concatenate((np.full(20, 50.0), np.full(20, -50.0), np.linspace(-5.0, 5.0, 60)))
    residual = np.concatenate((np.full(20, 0.3), np.full(20, -0.1), np.full(60, 9.0)))
    assert hysteresis(slope, residual) == pytest.approx(0.4)
    assert hysteresis(-slope, residual) == pytest.approx(-0.4)


@pytest.mark.parametrize(("rising", "known"), [(5, False), (6, True)])
def test_hysteresis_needs_six_rows_each_way(rising: int, known: bool) -> None:
    slope = np.concatenate((np.full(rising, 50.0), np.full(40 - rising, -50.0), np.linspace(-5.0, 5.0, 60)))
    for sign in (1.0, -1.0):
        assert (hysteresis(sign * slope, np.arange(float(len(slope)))) is not None) == known


def test_uncertainty_of_hysteresis_is_that_of_two_means_widened() -> None:
    rng = np.random.default_rng(1)
    slope = np.concatenate((np.full(16, 50.0), np.full(25, -50.0), np.zeros(62)))
    residual = rng.normal(size=103)
    _, u = _hysteresis(residual, slope, 2.0)
    up, down = residual[:16], residual[16:41]
    assert u == pytest.approx(2.0 * np.hypot(np.std(up, ddof=1) / 4.0, np.std(down, ddof=1) / 5.0))


def ladder(top: float) -> tuple[Floats, Floats]:
    """Speeds over the whole range; volts in proportion, those of the top fifth times a factor."""
    n = np.linspace(1000.0, 2000.0, 101)
    return n, 0.01 * n * np.where(n > 1800.0, top, 1.0)


@pytest.mark.parametrize("top", [0.9, 1.0, 1.05])
def test_sag_is_of_the_top_fifth_against_the_middle_two_fifths(top: float) -> None:
    n, v = ladder(top)
    v[(n <= 1300.0) | ((n >= 1700.0) & (n <= 1800.0))] *= 2.0  # neither top nor middle
    sag, _ = _sag(n, v)
    assert sag == pytest.approx(1.0 - top)


@pytest.mark.parametrize(("rows", "known"), [(3, False), (4, True)])
def test_sag_needs_four_rows_on_top_and_in_the_middle(rows: int, known: bool) -> None:
    on_top = np.concatenate((np.linspace(1000.0, 1700.0, 50), np.linspace(1810.0, 2000.0, rows)))
    in_the_middle = np.concatenate(
        (np.full(9, 1000.0), np.linspace(1400.0, 1600.0, rows), np.full(9, 2000.0))
    )
    for n in (on_top, in_the_middle):
        assert (_sag(n, 0.01 * n)[0] is not None) == known


def test_uncertainty_of_the_sag_is_that_of_two_medians() -> None:
    rng = np.random.default_rng(2)
    n = np.linspace(1000.0, 2000.0, 2001)
    ratio = 0.01 * (1.0 + rng.normal(0.0, 0.02, 2001))
    _, u = _sag(n, ratio * n)
    # A median of normal scatter is worse than a mean by sqrt(pi/2) = 1.25.
    assert u == pytest.approx(1.25 * 0.02 * np.hypot(400.0**-0.5, 800.0**-0.5), rel=0.08)


def test_volts_of_zero_have_no_sag() -> None:
    n, v = ladder(1.0)
    assert _sag(n, np.where(n < 1800.0, 0.0, v)) == (None, None)


@pytest.mark.parametrize(
    ("rows", "span", "seen"), [(11, 0.3, False), (12, 0.3, True), (60, 0.125, False), (60, 0.14, True)]
)
def test_a_line_needs_twelve_rows_over_an_eighth_of_rated_speed(rows: int, span: float, seen: bool) -> None:
    """The middle 92 % of the rows must span 12 % of rated speed."""
    n = 3000.0 + np.linspace(0.0, span * 3600.0, rows)
    found: Proportion = examine_proportion(n, 0.006 * n + 0.001 * np.sin(n), np.zeros(rows), 3600.0)
    assert (found.line is not None) == seen


@pytest.mark.parametrize("rows", [60, 240, 1000])
def test_what_is_usual_follows_a_bend_to_both_ends(rows: int) -> None:
    """V/n that falls evenly with the speed is usual at every speed, beyond the middles of the outer bands too."""
    n = np.linspace(1800.0, 3700.0, rows)
    ratio = 0.008 - 4e-7 * n
    assert _usual_ratio(n, ratio) == pytest.approx(ratio, rel=1e-9)


def test_what_is_usual_follows_a_kink_within_a_twentieth_of_the_range() -> None:
    """Volts that sag by 10 % over the last 700 rpm, from one moment on: twenty bands follow to 0.2 %."""
    n = np.linspace(1800.0, 3700.0, 240)
    ratio = 0.008 * np.where(n < 3000.0, 1.0, 1.0 - 0.1 * (n - 3000.0) / 700.0)
    assert np.max(np.abs(_usual_ratio(n, ratio) / ratio - 1.0)) < 0.002


def test_what_is_usual_of_few_rows_is_their_middle() -> None:
    n = np.array([1800.0, 2000.0, 2500.0, 3000.0, 3700.0])
    assert _usual_ratio(n, np.arange(5.0)).tolist() == [2.0] * 5


@pytest.mark.parametrize(("held", "volts"), [(True, 14.4), (False, None)])
def test_volts_that_a_regulator_holds_are_seen_in_the_upper_two_fifths(
    held: bool, volts: float | None
) -> None:
    """Volts rise up to 14.4 V, reached at three fifths of the range; held from there, or rising on."""
    n = np.linspace(1200.0, 3600.0, 200)
    rising = 14.4 / 2640.0 * n
    v = np.where(held & (n > 2640.0), 14.4, rising) + 0.005 * np.sin(7.0 * n)
    found = _held(n, v)
    assert (found is None) if volts is None else (found == pytest.approx(volts, abs=0.01))


def test_volts_that_fall_off_the_line_and_come_back_are_not_held() -> None:
    """Scatter as wide as the volts: nothing is beyond doubt."""
    n = np.linspace(1200.0, 3600.0, 40)
    v = 14.4 + 8.0 * np.random.default_rng(1).normal(size=40)
    assert _held(n, v) is None
