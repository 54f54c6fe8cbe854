"""Quantities read together, and what the budget says of volts and speed that moved together."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import LagEstimate
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import CountedRows, rated_output
from daq.rated.together import Together, means_of
from tui.budgettext import budget_lines

Floats = NDArray[np.float64]

TACH = InstrumentLimits(known=True, share=0.0005, counts=1.0, digit=1.0)
METER = InstrumentLimits(known=True, share=0.008, counts=3.0, digit=0.01)
HUNTING_RPM = 3600.0 + 60.0 * np.sin(np.arange(200.0))
NOISE_V = np.random.default_rng(3).normal(0.0, 0.02, 200)


def notes(volts: Floats, rpm: Floats, tach: InstrumentLimits = TACH) -> tuple[str, ...]:
    rows = CountedRows(np.arange(float(len(rpm))), volts, rpm, np.zeros(len(rpm)))
    output = rated_output(rows, 3600.0, LagEstimate(0.0, 0.0, determined=True), METER, tach)
    assert output is not None
    printed = budget_lines(output.budget)[-1].strip()
    assert printed == output.budget.notes[0] if output.budget.notes else "expanded" in printed
    return output.budget.notes


def test_a_hunting_engine_and_volts_that_follow() -> None:
    volts = 20.0 / 3600.0 * HUNTING_RPM + NOISE_V
    (said,) = notes(volts, HUNTING_RPM)
    row = np.std(volts * 3600.0 / HUNTING_RPM, ddof=1)
    unrelated = np.hypot(np.std(volts, ddof=1), 20.0 / 3600.0 * np.std(HUNTING_RPM, ddof=1))
    assert unrelated > 10.0 * row
    told = re.fullmatch(
        r"Volts and speed moved together \(correlation \+1\.00\): a row at rated speed scatters by (0\.\d{3}) V; "
        r"had they been unrelated, it would by (0\.\d{3}) V\.",
        said,
    )
    assert told is not None
    assert [float(number) for number in told.groups()] == pytest.approx([row, unrelated], abs=0.001)


def test_volts_that_stay_while_the_speed_scatters() -> None:
    (said,) = notes(20.0 + NOISE_V, HUNTING_RPM)
    assert np.std(HUNTING_RPM, ddof=1) == pytest.approx(42.5, abs=0.05)
    assert said.startswith("The speed readings scatter by 42.5 rpm and the volts do not move with them (")
    assert "the volts do not follow the speed" in said


def test_neither_is_said_where_nothing_moves() -> None:
    assert notes(20.0 + NOISE_V, np.full(200, 3600.0)) == ()
    assert notes(np.full(200, 20.0), np.full(200, 3600.0)) == ()
    # Within three digits of the tach a scatter is the digit's own.
    coarse = InstrumentLimits(known=True, share=0.0005, counts=1.0, digit=15.0)
    assert notes(20.0 + NOISE_V, HUNTING_RPM, coarse) == ()


def test_volts_that_scatter_more_than_the_speed_could_explain_say_nothing_of_the_speed() -> None:
    assert notes(20.0 + 50.0 * NOISE_V, HUNTING_RPM) == ()


def test_what_does_not_scatter_is_linked_to_nothing() -> None:
    both = means_of(np.array([1.0, 2.0, 3.0]), np.full(3, 7.0))
    assert both.known.correlation.tolist() == [[1.0, 0.0], [0.0, 1.0]]
    assert both.known.u.tolist() == [pytest.approx(3.0**-0.5), 0.0]
    assert both.value.tolist() == [2.0, 7.0]


@pytest.mark.parametrize("count", [0, 1])
def test_one_set_has_no_scatter(count: int) -> None:
    with pytest.raises(ValueError, match=f"two sets of readings, got {count}"):
        means_of(np.ones(count), np.ones(count))


def test_results_may_cancel_to_nothing() -> None:
    """A difference of two quantities that are wholly linked has no doubt, and rounding makes no NaN of it."""
    linked = Together(np.array([0.1, 0.1]), np.ones((2, 2)))
    assert linked.through(np.array([[1.0, -1.0]])).u.tolist() == [0.0]
    assert linked.unrelated.through(np.array([[1.0, -1.0]])).u.tolist() == [pytest.approx(0.02**0.5)]
    almost = Together(np.array([0.1, 0.1]), np.full((2, 2), 1.0 + 1e-12))
    assert almost.through(np.array([[1.0, -1.0]])).u.tolist() == [0.0]
