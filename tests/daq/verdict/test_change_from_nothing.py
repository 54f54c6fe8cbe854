"""A winding that gave nothing before its repair, and instruments without doubt: zeros are values too."""

from __future__ import annotations

import pytest

from daq.verdict.change import compare_results
from tests.daq.verdict.test_change import stated


def test_from_nothing_to_something() -> None:
    change = compare_results(stated(0.0, 0.3, verdict="fail"), stated(21.0, 0.4))
    assert change.change_V == pytest.approx(21.0)
    assert change.change_percent is None
    assert change.reasons[0].startswith("The rated output rose by 21.00 V")


def test_from_something_to_nothing() -> None:
    change = compare_results(stated(21.0, 0.4), stated(0.0, 0.3, verdict="fail"))
    assert change.change_V == pytest.approx(-21.0)
    assert change.change_percent == pytest.approx(-100.0)
    assert change.reasons[0].startswith("The rated output fell by 21.00 V")


@pytest.mark.parametrize(("before_u", "after_u"), [(0.0, 0.4), (0.4, 0.0)])
def test_a_result_without_doubt_adds_none(before_u: float, after_u: float) -> None:
    change = compare_results(stated(20.0, before_u), stated(21.0, after_u, freedom=4.0))
    assert change.standard_uncertainty_V == pytest.approx(0.4)


def test_equal_results_are_no_change() -> None:
    change = compare_results(stated(20.0, 0.0), stated(20.0, 0.0))
    assert change.change_V == 0.0
    assert change.significant is False


@pytest.mark.parametrize(
    ("after_v", "significant"), [(20.97, False), (20.99, True), (19.03, False), (19.01, True)]
)
def test_significant_beyond_the_expanded_uncertainty(after_v: float, significant: bool) -> None:
    """0.3 and 0.4 V make 0.5 V; 1.96 times that is 0.98 V."""
    assert compare_results(stated(20.0, 0.3), stated(after_v, 0.4)).significant is significant
