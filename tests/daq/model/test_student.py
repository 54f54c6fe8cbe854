"""The normal distribution and Student's t against scipy and against printed values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from daq.model.student import normal_below, normal_quantile, student_below, student_quantile

FREEDOMS = (1.0, 1.3, 2.0, 3.7, 10.0, 33.3, 99.9, 100.1, 999.0, 9999.0, 10001.0, 1e5, 1e6, 9.9e6)


@pytest.mark.parametrize("freedom", FREEDOMS)
def test_probability_is_that_of_scipy(freedom: float) -> None:
    for t in np.linspace(-45.0, 45.0, 181).tolist():
        assert student_below(freedom, t) == pytest.approx(float(stdtr(freedom, t)), rel=0.0, abs=1e-11)


@pytest.mark.parametrize("freedom", FREEDOMS)
@pytest.mark.parametrize("probability", [0.005, 0.025, 0.2, 0.5, 0.6, 0.9, 0.95, 0.975, 0.995])
def test_quantile_is_that_of_scipy(freedom: float, probability: float) -> None:
    expected = float(stdtrit(freedom, probability))
    assert student_quantile(freedom, probability) == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_normal_is_that_of_scipy() -> None:
    for z in np.linspace(-9.0, 9.0, 145).tolist():
        assert normal_below(z) == pytest.approx(float(ndtr(z)), rel=1e-12)
        assert student_below(math.inf, z) == normal_below(z)
    for probability in np.linspace(1e-6, 1.0 - 1e-6, 401).tolist():
        assert normal_quantile(probability) == pytest.approx(float(ndtri(probability)), rel=1e-12, abs=1e-14)
    assert (normal_quantile(0.0), normal_quantile(1.0)) == (-math.inf, math.inf)


# JCGM 100:2008, table G.2, column of 95 %, printed to two decimals; the values from memory.
@pytest.mark.parametrize(
    ("freedom", "factor"),
    [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01), (100, 1.984)],
)
def test_factors_are_the_printed_ones(freedom: int, factor: float) -> None:
    assert student_quantile(float(freedom), 0.975) == pytest.approx(factor, abs=0.006)


def test_infinite_t_is_certain() -> None:
    assert (student_below(3.0, math.inf), student_below(3.0, -math.inf)) == (1.0, 0.0)


@pytest.mark.parametrize("degrees_of_freedom", [1e100, 1e150, 1e300])
def test_so_many_degrees_of_freedom_that_their_powers_overflow_are_the_normal_distribution(
    degrees_of_freedom: float,
) -> None:
    assert student_below(degrees_of_freedom, 1.0) == pytest.approx(normal_below(1.0), abs=1e-9)
