"""Digits that a width deserves, and what a rule of two digits does at its ends."""

from __future__ import annotations

import pytest

from daq.verdict.judge import decimals_for


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
