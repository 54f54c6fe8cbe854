"""Changes of level that two streams share, and rows beside a change too quick for the tach."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.quick import quick_changes
from daq.align.snaps import followed, level_changes, shared_shift

Floats = NDArray[np.float64]

T = np.asarray(0.5 * np.arange(80), dtype=np.float64)


def stepped(*steps: tuple[float, float], t: Floats = T, cut_s: float = 0.0) -> Floats:
    """1000, times a factor from each moment on; a window that holds the moment has the mean over ``cut_s`` before."""
    value = np.full(len(t), 1000.0)
    for at_s, factor in steps:
        share = np.clip((t - at_s) / cut_s, 0.0, 1.0) if cut_s else (t >= at_s).astype(np.float64)
        value *= 1.0 + (factor - 1.0) * share
    return value


@pytest.mark.parametrize("cut_s", [0.0, 0.4, 1.2])
@pytest.mark.parametrize("factor", [2.0, 0.5, 3.0, 1.0 / 3.0, 1.5])
def test_a_change_is_found_whole_though_windows_are_cut(factor: float, cut_s: float) -> None:
    found = level_changes(T, stepped((10.1, factor), cut_s=cut_s))
    assert np.exp(found.log).tolist() == pytest.approx([factor], rel=0.07)
    assert found.time_s[0] == pytest.approx(10.0 + 0.5 * cut_s, abs=0.5)


@pytest.mark.parametrize(("factor", "count"), [(1.35, 0), (1.45, 1), (0.75, 0), (0.65, 1)])
def test_a_change_is_one_from_1_4_times(factor: float, count: int) -> None:
    assert len(level_changes(T, stepped((10.1, factor))).log) == count


@pytest.mark.parametrize(("readings", "count"), [(3, 1), (4, 0)])
def test_a_change_is_through_within_three_readings(readings: int, count: int) -> None:
    value = np.full(80, 1000.0)
    value[20 : 20 + readings] = np.geomspace(1000.0, 2000.0, readings + 1)[1:]
    value[20 + readings :] = 2000.0
    assert len(level_changes(T, value).log) == count


def test_up_and_down_are_two_and_an_engine_at_rest_is_none() -> None:
    assert np.sign(level_changes(T, stepped((10.0, 2.0), (10.5, 0.5))).log).tolist() == [1.0, -1.0]
    assert len(level_changes(T, np.where(T > 10.0, 1000.0, 0.0)).log) == 0
    assert len(level_changes(T[:1], T[:1]).log) == len(level_changes(T[:0], T[:0]).log) == 0


@pytest.mark.parametrize("shift_s", [-300.0, 0.0, 12.0])
def test_the_shift_at_which_all_changes_are_shared(shift_s: float) -> None:
    steps = (10.0, 2.0), (17.0, 0.5), (29.0, 2.0)
    mine, others = level_changes(T, stepped(*steps)), level_changes(T + shift_s, stepped(*steps[:2]))
    assert shared_shift(mine, others) == pytest.approx(shift_s, abs=0.5)
    assert followed(mine.log, mine.time_s, others, 1.0).tolist() == [True, True, False]


@pytest.mark.parametrize(
    "others",
    [
        (),
        ((10.0, 3.0),),  # by another multiple
        ((10.0, 0.5),),  # the other way
        ((10.0, 2.0), (20.0, 0.5), (30.0, 2.0)),  # twice the same: two shifts do as well
    ],
)
def test_no_shift_where_nothing_is_shared_or_two_do_as_well(others: tuple[tuple[float, float], ...]) -> None:
    mine = level_changes(T, stepped((10.0, 2.0)))
    assert shared_shift(mine, level_changes(T, stepped(*others))) is None
    said = followed(mine.log, mine.time_s, level_changes(T, stepped(*others)), 1.0)
    assert said.tolist() == [len(others) == 3]


@pytest.mark.parametrize("count", [150_000])
def test_a_change_at_the_seam_of_two_parts_is_found(count: int) -> None:
    """Long arrays are worked through in parts of 65,536."""
    t = np.asarray(0.1 * np.arange(count), dtype=np.float64)
    value = np.full(count, 1000.0)
    value[65_536:131_072] = 2000.0
    assert level_changes(t, value).time_s == pytest.approx([t[65_536] - 0.05, t[131_072] - 0.05])
    assert quick_changes(t, value, longest_s=1.0).after_s == pytest.approx([t[65_536], t[131_072]])


@pytest.mark.parametrize(("factor", "quick"), [(1.38, False), (1.42, True), (0.73, False), (0.7, True)])
def test_a_change_too_quick_for_the_tach(factor: float, quick: bool) -> None:
    assert len(quick_changes(T, stepped((10.0, factor)), longest_s=1.3).before_s) == int(quick)
    assert len(quick_changes(T, stepped((10.0, factor)), longest_s=0.4).before_s) == 0


@pytest.mark.parametrize(
    ("lag_u_s", "reach_s"), [(0.0, 1.2), (0.1, 1.5), (0.4, 2.4), (9.0, 2.7), (None, 2.7)]
)
def test_rows_beside_a_quick_change(lag_u_s: float | None, reach_s: float) -> None:
    """Two and a half tach windows of 0.5 s less half of one, half the meter's 0.4 s, and what the lag isn't known."""
    changes = quick_changes(T, stepped((10.0, 2.0)), longest_s=1.3)
    rows = np.asarray(np.arange(0.0, 20.0, 0.01), dtype=np.float64)
    beside = rows[changes.beside(rows, 0.4, lag_u_s)]
    assert (beside[0], beside[-1]) == pytest.approx((9.5 - reach_s, 10.0 + reach_s), abs=0.011)


def test_no_quick_change_is_beside_nothing() -> None:
    assert not np.any(quick_changes(T, stepped(), longest_s=1.3).beside(T, 0.4, None))
    assert len(quick_changes(T[:1], T[:1], longest_s=1.3).before_s) == 0
