"""Lines, combination and coverage against JCGM 100:2008 (GUM), with GTC and others as independent peers."""

from __future__ import annotations

from dataclasses import replace

import GTC
import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import linregress

from daq.rated.budget import Contribution, UncertaintyBudget, combine, student_factor
from daq.rated.line_fit import LineFit, fit_line
from tests.outside.published import (
    G2_FACTORS,
    G2_PROBABILITIES,
    H3_CORRECTION,
    H3_FITTED,
    H3_REFERENCE,
    H3_RESIDUAL,
    H3_TEMPERATURE,
    held_against,
)


@pytest.fixture(scope="module")
def thermometer() -> LineFit:
    return fit_line(H3_TEMPERATURE - H3_REFERENCE, H3_CORRECTION)


@held_against("G1")
def test_line_as_the_gum_prints_it(thermometer: LineFit) -> None:
    assert round(thermometer.offset, 4) == -0.1712
    assert round(thermometer.u_offset, 4) == 0.0029
    assert round(thermometer.slope, 5) == 0.00218
    assert round(thermometer.u_slope, 5) == 0.00067
    assert round(thermometer.correlation, 3) == -0.930
    assert round(thermometer.residual_sd, 4) == 0.0035
    assert thermometer.degrees_of_freedom == 9


@held_against("G1")
def test_line_in_full_digits_and_against_three_peers(thermometer: LineFit) -> None:
    x = H3_TEMPERATURE - H3_REFERENCE
    ours = (thermometer.offset, thermometer.u_offset, thermometer.slope, thermometer.u_slope)
    assert ours == pytest.approx(
        (-0.17120379013135, 0.00287759783516, 0.00218269773989, 0.00066793877322), rel=1e-10
    )
    assert thermometer.residual_sd == pytest.approx(0.00349756396351, rel=1e-10)
    intercept, slope = GTC.type_a.line_fit(x.tolist(), H3_CORRECTION.tolist()).a_b
    assert ours == pytest.approx((intercept.x, intercept.u, slope.x, slope.u), rel=1e-10)
    assert thermometer.correlation == pytest.approx(GTC.get_correlation(intercept, slope), rel=1e-10)
    scipy = linregress(x, H3_CORRECTION)
    assert ours == pytest.approx(
        (scipy.intercept, scipy.intercept_stderr, scipy.slope, scipy.stderr), rel=1e-10
    )
    peer = sm.OLS(H3_CORRECTION, sm.add_constant(x)).fit()
    assert ours == pytest.approx((peer.params[0], peer.bse[0], peer.params[1], peer.bse[1]), rel=1e-9)
    assert thermometer.r_squared == pytest.approx(peer.rsquared, rel=1e-9)


@held_against("G2")
def test_prediction_away_from_the_data(thermometer: LineFit) -> None:
    at = 30.0 - H3_REFERENCE
    assert round(thermometer.at(at), 4) == -0.1494
    assert round(thermometer.u_at(at), 4) == 0.0041
    assert (thermometer.at(at), thermometer.u_at(at)) == pytest.approx(
        (-0.14937681273, 0.00413859575), rel=1e-9
    )


@held_against("G3")
def test_prediction_without_the_covariance_is_wrong(thermometer: LineFit) -> None:
    blind = replace(thermometer, correlation=0.0)
    assert blind.u_at(10.0) == pytest.approx(0.00727, abs=5e-6)
    assert thermometer.u_at(10.0) < 0.6 * blind.u_at(10.0)


@held_against("G4")
def test_fitted_values_and_residuals(thermometer: LineFit) -> None:
    fitted = np.array([thermometer.at(t - H3_REFERENCE) for t in H3_TEMPERATURE])
    assert np.round(fitted, 4) == pytest.approx(H3_FITTED, abs=1e-12)
    assert np.round(H3_CORRECTION - fitted, 4) == pytest.approx(H3_RESIDUAL, abs=1e-12)


# H.1: u in nm and degrees of freedom before the GUM rounds them to 5.8, 3.9, 6.7, 25, 2.9 and 16.6:
# the scatter 13 nm over five comparisons; ±10 nm at 95 % with 5 degrees of freedom; 20 nm at three
# standard uncertainties; the standard; expansion of 50 mm at 0.1 °C off; its temperature, ±0.05 °C.
GAUGE_DIFFERENCE = ((13.0 / 5.0**0.5, 24.0), (10.0 / 2.57, 5.0), (20.0 / 3.0, 8.0))
GAUGE_OTHERS = ((25.0, 18.0), (50.0 * 0.1 / 3.0**0.5, 50.0), (11.5 * 50.0 * 0.05 / 3.0**0.5, 2.0))


def gauge_budget(probability: float) -> UncertaintyBudget:
    difference = combine([Contribution("part", u, degrees_of_freedom=f) for u, f in GAUGE_DIFFERENCE])
    assert round(difference.standard_uncertainty, 1) == 9.7
    assert round(difference.effective_degrees_of_freedom, 1) == 25.6
    whole = Contribution(
        "difference",
        difference.standard_uncertainty,
        degrees_of_freedom=difference.effective_degrees_of_freedom,
    )
    others = [Contribution("other", u, degrees_of_freedom=f) for u, f in GAUGE_OTHERS]
    return combine([whole, *others], probability)


@held_against("G9")
def test_welch_satterthwaite_over_two_steps() -> None:
    budget = gauge_budget(0.95)
    assert round(budget.standard_uncertainty) == 32
    assert budget.standard_uncertainty == pytest.approx(31.66, abs=0.005)
    assert round(budget.effective_degrees_of_freedom, 1) == 16.7
    inputs = [GTC.ureal(0.0, u, f) for u, f in (*GAUGE_DIFFERENCE, *GAUGE_OTHERS)]
    peer = sum(inputs[1:], inputs[0])
    assert budget.standard_uncertainty == pytest.approx(peer.u, rel=1e-12)
    assert budget.effective_degrees_of_freedom == pytest.approx(peer.df, rel=1e-9)


@held_against("G10")
def test_expanded_at_99_percent() -> None:
    budget = gauge_budget(0.99)
    factor = student_factor(float(int(budget.effective_degrees_of_freedom)), 0.99)
    assert factor == pytest.approx(2.92078, abs=1e-5)
    assert round(round(factor, 2) * round(budget.standard_uncertainty)) == 93
    # The project takes the freedom as it is, 16.7, where the GUM rounds it down to 16: 1 nm less.
    assert budget.expanded_uncertainty == pytest.approx(92.0, abs=0.5)
    assert budget.expanded_uncertainty < factor * budget.standard_uncertainty


@pytest.mark.parametrize("freedom", G2_FACTORS)
@held_against("G11")
def test_student_factors(freedom: float) -> None:
    digits = 2 if np.isfinite(freedom) else 3
    ours = tuple(round(student_factor(freedom, p / 100.0), digits) for p in G2_PROBABILITIES)
    assert ours == G2_FACTORS[freedom]


@held_against("G12")
def test_last_digit() -> None:
    digit = Contribution.from_limits("last digit", 0.5 * 0.01)
    assert digit.standard_uncertainty == pytest.approx(0.01 / 12.0**0.5, rel=1e-12)
    assert round(digit.standard_uncertainty / 0.01, 5) == 0.28868


@held_against("G13")
def test_limits_of_three_shapes() -> None:
    limit = 0.4
    rectangular = Contribution.from_limits("limit", limit, "rectangular").standard_uncertainty
    triangular = Contribution.from_limits("limit", limit, "triangular").standard_uncertainty
    arcsine = Contribution.from_limits("limit", limit, "arcsine").standard_uncertainty
    ours = [round(u / limit, 5) for u in (rectangular, triangular, arcsine)]
    assert ours == [0.57735, 0.40825, 0.70711]
    peers = [GTC.type_b.uniform(limit), GTC.type_b.triangular(limit), GTC.type_b.arcsine(limit)]
    assert [rectangular, triangular, arcsine] == pytest.approx(peers, rel=1e-12)
