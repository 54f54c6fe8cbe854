"""The output of a very long run, of which some rows stand for all, beside what its parts give from all of theirs."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import LagEstimate
from daq.align.parts import LONG
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import CountedRows, RatedOutput, rated_output

Floats = NDArray[np.float64]

COUNT = 400_000
PARTS = 4
METER, TACH = InstrumentLimits(True, 0.01, 3.0, 0.01), InstrumentLimits(True, 0.0005, 1.0, 1.0)
SPIKES = (17, 123_456, 399_990)


@pytest.fixture(scope="module")
def rows() -> CountedRows:
    """A governor that hunts with a period of exactly 40 rows, and scatter that neighbours share."""
    rng = np.random.default_rng(3)
    time_s = 0.1 * np.arange(float(COUNT))
    speed = 3550.0 + 60.0 * np.sin(2.0 * np.pi * np.arange(COUNT) / 40.0)
    scatter = np.convolve(rng.normal(0.0, 0.02, COUNT + 4), np.full(5, 0.2), "valid")
    warm = np.linspace(1.0, 0.999, COUNT)  # the magnets get warm
    volts = np.round(speed / 150.0 * warm + scatter, 2)
    volts[list(SPIKES)] = 60.0
    slope = np.gradient(speed, 0.1)
    return CountedRows(time_s, volts, speed, slope)


def output_of(rows: CountedRows, part: slice = slice(None)) -> RatedOutput:
    some = CountedRows(rows.time_s[part], rows.voltage_v[part], rows.speed_rpm[part], rows.slope_rpm_s[part])
    found = rated_output(some, 3600.0, LagEstimate(0.1, 0.02, determined=True), METER, TACH)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def whole(rows: CountedRows) -> RatedOutput:
    assert len(rows.time_s) > LONG
    return output_of(rows)


@pytest.fixture(scope="module")
def quarters(rows: CountedRows) -> list[RatedOutput]:
    length = COUNT // PARTS
    assert length <= LONG
    return [output_of(rows, slice(i * length, (i + 1) * length)) for i in range(PARTS)]


def test_value_is_that_of_all_rows(whole: RatedOutput, quarters: list[RatedOutput]) -> None:
    all_v = float(np.mean([q.rated_voltage_v for q in quarters]))
    assert abs(whole.rated_voltage_v - all_v) < 0.002 * whole.budget.expanded_uncertainty


def test_scatter_is_that_of_all_rows(whole: RatedOutput, rows: CountedRows) -> None:
    rated = np.delete(rows.voltage_v * 3600.0 / rows.speed_rpm, SPIKES)
    assert whole.scatter_v == pytest.approx(float(np.std(rated)), rel=0.02)


def test_uncertainty_is_that_of_the_instruments(whole: RatedOutput, quarters: list[RatedOutput]) -> None:
    assert whole.budget.expanded_uncertainty == pytest.approx(
        quarters[0].budget.expanded_uncertainty, rel=1e-3
    )
    scatter = whole.budget.contributions[0]
    assert scatter.name == "scatter of the readings"
    assert 0.0 < scatter.output_uncertainty < 0.01 * whole.budget.standard_uncertainty


def test_what_is_counted_is_counted_over_all_rows(whole: RatedOutput, rows: CountedRows) -> None:
    assert whole.rows_used == COUNT
    assert whole.span_s == rows.time_s[-1] - rows.time_s[0]
    assert whole.nearest_share == np.min(np.abs(rows.speed_rpm / 3600.0 - 1.0))
    assert np.flatnonzero(whole.weightless).tolist() == list(SPIKES)


def test_line_is_that_of_a_part(whole: RatedOutput, quarters: list[RatedOutput]) -> None:
    # The speeds span too little for a line, in the whole as in each part.
    assert whole.proportion.line is None
    assert all(q.proportion.line is None for q in quarters)
    assert whole.budget.contributions[-1].name == quarters[0].budget.contributions[-1].name
