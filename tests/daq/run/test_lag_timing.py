"""When a run that goes on has its lag estimated anew."""

from __future__ import annotations

import numpy as np
import pytest

from daq.run.lag_timing import lag_due, speed_moved


@pytest.mark.parametrize(
    ("since_s", "kept_s", "due"),
    [(9.9, 20.0, False), (10.0, 20.0, True), (59.0, 120.0, False), (60.0, 120.0, True)],
)
def test_a_lag_that_is_known_is_looked_at_again_when_there_is_more_to_see(
    since_s: float, kept_s: float, due: bool
) -> None:
    for moved in (False, True):
        assert lag_due(since_s, kept_s, determined=True, moved=moved) is due


def test_one_that_is_not_is_looked_for_as_soon_as_the_speed_has_moved() -> None:
    assert lag_due(2.0, 120.0, determined=False, moved=True)
    assert not lag_due(1.9, 120.0, determined=False, moved=True)
    assert not lag_due(59.0, 120.0, determined=False, moved=False)
    assert lag_due(60.0, 120.0, determined=False, moved=False)


def test_what_counts_as_a_movement() -> None:
    assert speed_moved(np.array([3600.0, np.nan, 3560.0]))
    assert not speed_moved(np.array([3600.0, np.nan, 3580.0]))
    assert speed_moved(np.array([0.0, 900.0]))
    assert not speed_moved(np.array([0.0, 0.0]))
    assert not speed_moved(np.array([3600.0]))
    assert not speed_moved(np.empty(0))
