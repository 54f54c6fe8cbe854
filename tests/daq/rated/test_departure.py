"""What one steady speed can't show: in full from 10 % away, nothing within 3 %, and nothing where a line shows it."""

from __future__ import annotations

import numpy as np
import pytest

from daq.rated.departure import departure_lines, row_departure, unseen_half_width
from daq.rated.line_fit import LineFit
from daq.rated.proportion import Proportion

RATED_RPM, VALUE_V = 3600.0, 20.0
LINE = LineFit(0.3, 0.4, 0.0055, 1e-5, -0.9, 0.01, 0.999, 50)


def lines(
    stretch: float, proportion: Proportion, seen: tuple[float, float] | None = None
) -> dict[str, float]:
    """Half widths (limits) and standard uncertainties by name, V of the output."""
    rpm = RATED_RPM / (1.0 + stretch)
    found = departure_lines(proportion, np.full(9, rpm), seen or (rpm, rpm), RATED_RPM, VALUE_V)
    return {
        c.name: c.output_uncertainty * (3.0**0.5 if c.distribution == "rectangular" else 1.0) for c in found
    }


@pytest.mark.parametrize(
    ("stretch", "reach"), [(0.2, 0.2), (-0.2, 0.2), (0.10, 0.10), (0.065, 0.0325), (-0.065, 0.0325)]
)
def test_of_one_speed_the_offset_and_the_bend_are_limits_that_grow_with_the_distance(
    stretch: float, reach: float
) -> None:
    """5 % of the output times the reach, 10 % times its square; a granted offset of 0.5 % beside them."""
    assert lines(stretch, Proportion()) == pytest.approx(
        {
            "departure from proportion": 0.005 * VALUE_V * abs(stretch),
            "offset that one speed can't show": 0.05 * VALUE_V * reach,
            "bend beyond the speeds seen": 0.10 * VALUE_V * reach**2,
        }
    )


@pytest.mark.parametrize("stretch", [-0.029, 0.0, 0.029])
def test_within_three_percent_neither_counts(stretch: float) -> None:
    assert list(lines(stretch, Proportion())) == ["departure from proportion"]


@pytest.mark.parametrize(
    ("seen", "bends"),
    [
        ((1800.0, 3300.0), True),
        ((1800.0, 3500.0), False),
        ((1800.0, 3600.0), False),
        ((3600.0, 4000.0), False),
    ],
)
def test_the_bend_counts_only_beyond_the_speeds_seen(seen: tuple[float, float], bends: bool) -> None:
    found = lines(0.2, Proportion(line=LINE), seen)
    assert ("bend beyond the speeds seen" in found) == bends
    assert "offset that one speed can't show" not in found
    assert found["departure from proportion"] == pytest.approx(0.2 * 0.5)  # hypot of 0.3 and 0.4


def test_a_negative_output_has_the_same_widths() -> None:
    rpm = np.full(9, 3000.0)
    up, down = (departure_lines(Proportion(), rpm, (3000.0, 3000.0), RATED_RPM, v) for v in (20.0, -20.0))
    assert [c.standard_uncertainty for c in up] == [c.standard_uncertainty for c in down]


def test_offset_and_bend_together_as_one_half_width() -> None:
    rpm = np.full(9, 3000.0)
    found = departure_lines(Proportion(), rpm, (3000.0, 3000.0), RATED_RPM, VALUE_V)
    assert unseen_half_width(found) == pytest.approx(np.hypot(0.05 * 20.0 * 0.2, 0.10 * 20.0 * 0.04))
    assert unseen_half_width(found[:1]) == 0.0


def test_single_rows_carry_the_same() -> None:
    rpm = RATED_RPM / np.array([1.2, 1.065, 1.02, 0.8])
    rated = np.array([20.0, 20.0, 20.0, -20.0])
    reach = np.array([0.2, 0.0325, 0.0, 0.2])
    stretch = np.array([0.2, 0.065, 0.02, 0.2])
    limits = np.hypot(0.05 * reach, 0.10 * reach**2) / 3.0**0.5
    expected = 20.0 * np.hypot(0.005 * stretch, limits)
    assert row_departure(Proportion(), rpm, RATED_RPM, rated) == pytest.approx(expected)
    assert row_departure(Proportion(line=LINE), rpm, RATED_RPM, rated) == pytest.approx(0.5 * stretch)
