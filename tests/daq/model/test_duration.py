"""Lengths of time in words."""

from __future__ import annotations

import pytest

from daq.model.duration import duration_words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.5, "0.5 s"),
        (119.9, "119.9 s"),
        (120, "2 min"),
        (5400, "90 min"),
        (7169, "119 min"),
        (7170, "2 h 0 min"),
        (86_400, "24 h 0 min"),
        (172_740, "47 h 59 min"),
        (172_800, "2 days"),
        (1_795_667_660, "20783 days"),
    ],
)
def test_the_unit_goes_with_the_length(seconds: float, words: str) -> None:
    assert duration_words(seconds) == words
