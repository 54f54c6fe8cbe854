"""What one steady speed can't show: in full from 8 % away, nothing within 3 %, and nothing where a line shows it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import LagEstimate
from daq.rated.departure import departure_lines, row_departure, unseen_half_width
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.line_fit import LineFit
from daq.rated.output import CountedRows, rated_output
from daq.rated.proportion import Proportion

Floats = NDArray[np.float64]
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
    ("stretch", "reach"), [(0.2, 0.2), (-0.2, 0.2), (0.08, 0.08), (0.055, 0.0275), (-0.055, 0.0275)]
)
def test_of_one_speed_the_offset_and_the_bend_are_limits_that_grow_with_the_distance(
    stretch: float, reach: float
) -> None:
    """24 % of the output times how far off, 10 % times the reach's square; a granted offset of 0.5 % beside them."""
    assert lines(stretch, Proportion()) == pytest.approx(
        {
            "departure from proportion": 0.005 * VALUE_V * abs(stretch),
            "offset that one speed can't show": 0.24 * VALUE_V * reach / (1.0 + stretch),
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
    assert unseen_half_width(found) == pytest.approx(np.hypot(0.24 * 20.0 / 6.0, 0.10 * 20.0 * 0.04))
    assert unseen_half_width(found[:1]) == 0.0


def test_single_rows_carry_the_same() -> None:
    rpm = RATED_RPM / np.array([1.2, 1.055, 1.02, 0.8])
    rated = np.array([20.0, 20.0, 20.0, -20.0])
    reach = np.array([0.2, 0.0275, 0.0, 0.2])
    stretch = np.array([0.2, 0.055, 0.02, 0.2])
    limits = np.hypot(0.24 * reach / np.array([1.2, 1.055, 1.02, 0.8]), 0.10 * reach**2) / 3.0**0.5
    expected = 20.0 * np.hypot(0.005 * stretch, limits)
    assert row_departure(Proportion(), rpm, RATED_RPM, rated) == pytest.approx(expected)
    assert row_departure(Proportion(line=LINE), rpm, RATED_RPM, rated) == pytest.approx(0.5 * stretch)


def interval(rpm: float, true_v: float) -> tuple[float, float]:
    """The output at rated speed of an alternator near its saturation, held at one speed: error and expanded U."""
    rng = np.random.default_rng(int(rpm))
    n = rpm + rng.normal(0.0, 3.0, 150)
    volts = true_v * 1.25**0.5 * (n / RATED_RPM) / np.sqrt(1.0 + 0.25 * np.square(n / RATED_RPM))
    t: Floats = np.asarray(0.4 * np.arange(150), dtype=np.float64)
    rows = CountedRows(t, volts + rng.normal(0.0, 0.01, 150), n, np.zeros(150))
    nothing = LagEstimate(0.0, 0.6, determined=False)
    meter, tach = InstrumentLimits(False, 0.0, 0.0, 0.01), InstrumentLimits(False, 0.0, 0.0, 1.0)
    output = rated_output(rows, RATED_RPM, nothing, meter, tach)
    assert output is not None
    return output.rated_voltage_v - true_v, output.budget.expanded_uncertainty


@pytest.mark.parametrize(
    "rpm", [1800.0, 2400.0, 3000.0, 3150.0, 3200.0, 3250.0, 3300.0, 3900.0, 4000.0, 4200.0, 4400.0]
)
def test_of_an_alternator_that_bends_one_speed_holds_the_truth(rpm: float) -> None:
    """From 7 % off on both sides, by instruments of which nothing is known but their digits."""
    error, expanded = interval(rpm, 21.0)
    assert 0.2 < abs(error) <= expanded


def test_the_width_grows_steadily_with_the_distance() -> None:
    for way in (-1.0, 1.0):
        shares = np.arange(0.0, 0.16, 0.005)
        widths = np.array([interval(RATED_RPM * (1.0 + way * share), 21.0)[1] for share in shares])
        assert np.all(np.diff(widths) > -0.002)
        assert float(np.max(np.diff(widths))) < 0.1
        assert float(np.max(widths[shares <= 0.025])) < 0.02


def test_the_volts_of_a_steady_speed_near_rated_speed_are_no_wider_than_before() -> None:
    assert interval(3520.0, 21.0)[1] < 0.02
