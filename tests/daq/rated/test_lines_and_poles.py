"""Straight lines that points can't give, and poles that come in pairs."""

from __future__ import annotations

import math

import numpy as np
import pytest

from daq.rated.line_fit import fit_line, fit_through_origin
from daq.rated.poles import frequency_hz, pole_pairs_from_readings, synchronous_speed_rpm


@pytest.mark.parametrize("x", [[3000.0], [0.0, 0.0, 0.0]])
def test_a_line_through_the_origin_needs_two_points_away_from_it(x: list[float]) -> None:
    with pytest.raises(ValueError, match=f"two points away from it, got {len(x)}"):
        fit_through_origin(np.array(x), np.ones(len(x)))


@pytest.mark.parametrize("x", [[3000.0, 3100.0], [3000.0, 3000.0, 3000.0]])
def test_a_line_with_an_offset_needs_three_points_at_different_places(x: list[float]) -> None:
    with pytest.raises(ValueError, match=f"three points at different places, got {len(x)}"):
        fit_line(np.array(x), np.ones(len(x)))


def test_points_without_any_volts_leave_the_share_explained_unknown() -> None:
    x, y = np.array([3000.0, 3300.0, 3600.0]), np.zeros(3)
    through, line = fit_through_origin(x, y), fit_line(x, y)
    assert (through.slope, line.slope, line.offset) == (0.0, 0.0, 0.0)
    assert math.isnan(through.r_squared)
    assert math.isnan(line.r_squared)


@pytest.mark.parametrize("poles", [-2, 0, 1, 7])
def test_poles_that_no_machine_has_are_refused(poles: int) -> None:
    for formula in (synchronous_speed_rpm, frequency_hz):
        with pytest.raises(ValueError, match=f"{poles} can't be a number of poles"):
            formula(60.0, poles)


def test_speed_and_frequency_are_each_others_inverse() -> None:
    """n = 120 f / P: 60 Hz and 2 poles make 3600 rpm."""
    assert synchronous_speed_rpm(60.0, 2) == 3600.0
    assert frequency_hz(3600.0, 12) == 360.0


def test_two_moments_make_no_pole_pairs() -> None:
    found = pole_pairs_from_readings(np.array([360.0, 360.0, 360.0]), np.array([3600.0, np.nan, 3600.0]))
    assert found.pole_pairs is None
    assert math.isnan(found.ratio)
