"""Digits that a width deserves, and how sure a verdict is said to be."""

from __future__ import annotations

import pytest

from daq.verdict.judge import decimals_for, judge
from tests.daq.verdict.builders import evidence_of, output_of


@pytest.mark.parametrize(
    ("width", "decimals"),
    [
        (0.0, 2),
        (25.0, 2),
        (1.0, 2),
        (0.99, 2),
        (0.1, 2),
        (0.099, 3),
        (0.01, 3),
        (0.0099, 4),
        (0.0004, 5),
        (1e-9, 5),
    ],
)
def test_two_digits_of_a_width_between_two_and_five_decimals(width: float, decimals: int) -> None:
    assert decimals_for(width) == decimals


@pytest.mark.parametrize(
    ("value", "words"),
    [(20.2, "(97.7 % sure)"), (19.8, "(97.7 % sure)"), (20.4, "(beyond doubt)"), (19.6, "(beyond doubt)")],
)
def test_a_verdict_says_how_sure_it_is_of_itself(value: float, words: str) -> None:
    """Two and four standard uncertainties from the limit, on either side."""
    assert words in judge(output_of(value, u=0.1), evidence_of(minimum_v=20.0)).reasons[0]


@pytest.mark.parametrize("unknown", ["meter_known", "tach_known"])
@pytest.mark.parametrize(("value", "sure"), [(20.2, "(97.7 % sure if"), (19.6, "(over 99.9 % sure if")])
def test_nothing_is_beyond_doubt_by_instruments_of_unknown_accuracy(
    value: float, sure: str, unknown: str
) -> None:
    evidence = evidence_of(minimum_v=20.0, **{unknown: False})
    said = judge(output_of(value, u=0.1), evidence).reasons[0]
    assert sure in said
    assert "the instruments read true" in said
    assert "beyond doubt" not in said
