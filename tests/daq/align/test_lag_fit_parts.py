"""Parts of the lag's fit: what is known beforehand, the rise of the volts, and how far two slopes agree."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag_fit import LagPrior, LagProblem, _Guess, _Rows, _strength, rise_around
from daq.align.revolution_table import RevolutionTable

Floats = NDArray[np.float64]


def problem(volts: Floats) -> LagProblem:
    t = np.asarray(0.4 * np.arange(len(volts)), dtype=np.float64)
    prior = LagPrior(0.2, 0.5, -1.0, 1.0)
    return LagProblem(RevolutionTable.empty(), t, volts, np.zeros(len(volts)), 0.4, prior, 0.05, 0.01)


def test_what_is_known_beforehand_are_inverse_squares() -> None:
    """Nothing of the factor; an offset of 0.05 V; a bend of a tenth of the volts; the lag to 0.5 s; a drift."""
    held = problem(np.full(20, -20.0)).prior_weights
    # 20 readings are 7.6 s: in half of them no more than 0.2 % a second.
    drift = 0.002 * 3.8
    assert held == pytest.approx([0.0, 1.0 / 0.05**2, 1.0 / 2.0**2, 1.0 / 0.5**2, drift**-2, drift**-2])
    assert problem(np.full(400, 20.0)).prior_weights[4:] == pytest.approx([0.05**-2, 0.03**-2])


def test_without_speed_there_is_no_fit() -> None:
    assert problem(np.full(20, 20.0)).refine(0.0) is None


def test_rise_is_between_the_middles_of_the_neighbours_on_either_side() -> None:
    """Uneven times; the reading itself does not count, and what lies beyond the reach does not."""
    t = np.array([0.0, 0.3, 1.0, 1.1, 2.5, 2.6])
    v = np.array([1.0, 2.0, 50.0, 4.0, 9.0, -3.0])
    rise = rise_around(t, v, 1.0)
    # At 1.0: 0.0 and 0.3 before, 1.1 after.
    assert rise[2] == pytest.approx((4.0 - 1.5) / (1.1 - 0.15))
    # At 1.1: 0.3 and 1.0 before, nothing within a second after.
    assert rise.tolist()[3:] == [0.0, 0.0, 0.0]
    assert rise[0] == 0.0
    assert rise[1] == pytest.approx((0.5 * (50.0 + 4.0) - 1.0) / (1.05 - 0.0))


def test_rise_of_a_straight_line_is_its_slope_and_far_from_zero_too() -> None:
    t = np.cumsum(np.random.default_rng(1).uniform(0.2, 0.6, 50)) + 1e6
    assert rise_around(t, 0.7 * (t - 1e6) + 1e4, 1.0)[3:-3] == pytest.approx(np.full(44, 0.7), rel=1e-6)


def rows(slope: Floats, rise: Floats, weight: Floats | None = None) -> _Rows:
    n = len(slope)
    jacobian = np.stack((np.ones(n), np.ones(n), np.zeros(n), -slope, np.zeros(n), np.zeros(n)), axis=1)
    none, all_of_them = np.zeros(n), np.ones(n, dtype=np.bool_)
    weight = np.ones(n) if weight is None else weight
    return _Rows(_Guess(0.0), jacobian, none, weight, rise, none, 1.0, 1.0, all_of_them)


@pytest.mark.parametrize("count", [20, 200])
def test_agreement_of_the_slopes_is_fishers_z_of_half_the_rows(count: int) -> None:
    rng = np.random.default_rng(2)
    slope = rng.normal(size=count)
    rise = 0.6 * slope + rng.normal(size=count)
    r = float(slope @ rise / np.sqrt((slope @ slope) * (rise @ rise)))
    assert _strength(rows(slope, rise)) == pytest.approx(np.arctanh(r) * (0.5 * count - 3.0) ** 0.5)
    assert _strength(rows(slope, -rise)) == pytest.approx(-_strength(rows(slope, rise)))
    # Rows without weight are not there at all.
    weight = np.concatenate((np.ones(count - 10), np.zeros(10)))
    assert _strength(rows(slope, rise, weight)) == pytest.approx(_strength(rows(slope[:-10], rise[:-10])))


def test_slopes_that_are_the_same_agree_finitely_and_none_do_not_at_all() -> None:
    slope = np.arange(1.0, 31.0)
    assert _strength(rows(slope, slope)) == pytest.approx(np.arctanh(0.999999) * 12.0**0.5)
    assert _strength(rows(slope, np.zeros(30))) == 0.0
    assert _strength(rows(slope[:6], slope[:6])) == 0.0


def test_scatter_on_the_few_rows_that_carry_the_lag_widens_it() -> None:
    """White's covariance with HC3: one number for all scatter would not see where it lies."""
    n = 60
    rng = np.random.default_rng(6)
    slope = np.zeros(n)
    slope[::10] = 5.0
    speed = 3000.0 + 400.0 * np.sin(0.2 * np.arange(n))
    off = speed / 3000.0 - 1.0
    still = np.zeros(n)
    jacobian = np.stack((speed, np.ones(n), off * off, -slope, still, still), axis=1)
    residual = np.where(slope > 0.0, 0.3, 0.01) * rng.choice([-1.0, 1.0], n)
    weight, all_of_them = np.ones(n), np.ones(n, dtype=np.bool_)
    shown = 20.0 + np.zeros(n)

    def uncertainty(residual: Floats) -> float:
        row = _Rows(_Guess(0.2), jacobian, residual, weight, slope, shown, 0.01, 1.0, all_of_them)
        return problem(shown)._uncertainty(row, row.jacobian)

    def white(residual: Floats) -> float:
        held = np.diag(problem(shown).prior_weights)
        share = 1.0 / 0.01**2
        bread = np.linalg.inv(share * jacobian.T @ jacobian + held)
        hat = share * np.einsum("ij,jk,ik->i", jacobian, bread, jacobian)
        meat = sum(
            np.outer(j, j) * (share * r / (1.0 - h)) ** 2
            for j, r, h in zip(jacobian, residual, hat, strict=True)
        )
        return float((bread @ meat @ bread)[3, 3] ** 0.5)

    plain = np.linalg.inv(jacobian.T @ jacobian / 0.01**2 + np.diag(problem(shown).prior_weights))
    assert uncertainty(np.zeros(n)) == pytest.approx(float(plain[3, 3] ** 0.5), rel=1e-6)
    assert uncertainty(residual) == pytest.approx(white(residual), rel=1e-6)
    assert uncertainty(residual) > 10.0 * uncertainty(np.zeros(n))
