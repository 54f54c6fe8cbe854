"""What a kink must have around it: windows of even length, enough of them, sides that meet near the window."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align import kink_moments
from daq.align.kink_moments import AFTER, BEFORE, Kinks, find_kinks

Floats = NDArray[np.float64]


def windows(moment: float, count: int, rate: float = 100.0) -> Floats:
    """Means over windows of length 1 of a level speed that rises evenly from a moment on."""
    t = np.arange(count + 1.0)
    turns = 1000.0 * t + 0.5 * rate * np.square(np.maximum(t - moment, 0.0))
    return np.asarray(np.diff(turns))


def found(mean: Floats, length: Floats | None = None, *, ended: bool = True) -> tuple[list[int], int]:
    lengths = np.ones(len(mean)) if length is None else length
    kinks, undecided = find_kinks(lengths, mean, np.zeros(len(mean), dtype=np.bool_), ended=ended)
    return ([] if kinks is None else kinks.cell.tolist()), undecided


@pytest.mark.parametrize(
    ("before", "after", "is_found"),
    [(BEFORE, AFTER, True), (BEFORE, AFTER - 1, False), (BEFORE - 1, AFTER, False), (9, 9, True)],
)
def test_five_windows_before_and_four_after_are_enough(before: int, after: int, is_found: bool) -> None:
    mean = windows(before + 0.4, before + 1 + after)
    assert found(mean) == ([before] if is_found else [], len(mean))
    cells, undecided = found(mean, ended=False)
    assert cells == ([before] if is_found else [])
    # Only where readings to come can still decide it do rows wait for it.
    assert (undecided == before) == (after < AFTER)
    assert undecided >= before


@pytest.mark.parametrize(("place", "is_found"), [(-6, True), (-5, False), (4, False), (5, True)])
def test_these_windows_are_of_even_length_and_no_others_need_be(place: int, is_found: bool) -> None:
    """Nor does a kink that will not be one hold up the rows."""
    mean, length = windows(10.4, 20), np.ones(20)
    length[10 + place] = 1.1
    assert found(mean, length)[0] == ([10] if is_found else [])
    undecided = found(mean[:12], length[:12], ended=False)[1]
    assert undecided == 10 if place != -5 else undecided > 10


def test_the_first_kink_of_a_run_does_not_look_at_its_last_window() -> None:
    length = np.ones(20)
    length[-1] = 1.1
    assert found(windows(BEFORE + 0.4, 20), length)[0] == [BEFORE]


@pytest.mark.parametrize("rough", [-1, -2, -5])  # the last one spoils what is foretold of the second alone
def test_both_windows_before_must_have_been_foretold(rough: int) -> None:
    """A break of 30 rpm counts from three times what the three windows before missed of either."""
    mean = windows(10.4, 20)
    assert found(mean)[0] == [10]
    for off_rpm, looked_at in ((2.0, True), (30.0, False)):
        rough_mean = mean.copy()
        rough_mean[10 + rough] += off_rpm
        missed = [abs(rough_mean[c] - _foretold(rough_mean, c)) for c in (9, 8)]
        broken = abs(rough_mean[10] - _foretold(rough_mean, 10))
        assert (broken > 3.0 * max(missed)) == looked_at
        assert (found(rough_mean[:14], ended=False)[1] == 10) is looked_at


def _foretold(mean: Floats, cell: int) -> float:
    """What the three windows before say of a window; here they lie on a level, or are no steady course."""
    side = kink_moments._side(mean, np.array([cell]), -1)
    return float(side.within(1.0)[0])


@pytest.mark.parametrize(
    ("means", "within"),
    [
        ((1000.0, 990.0, 980.0), 1010.0),  # a straight line goes on
        ((1000.0, 980.0, 970.0), 1040.0),  # settling: the steps double towards the break
        ((1000.0, 999.0, 994.0), 1003.0),  # steps that grow five times away from it: their mean
        ((1000.0, 990.0, 988.1), 1000.0),  # steps that shrink five times away from it: level
        ((1000.0, 1000.0, 990.0), 1005.0),  # no step next to the break: half of the one further off
    ],
)
def test_what_three_windows_foretell_of_the_next(means: tuple[float, ...], within: float) -> None:
    side = kink_moments._Side.through(*(np.array([m]) for m in means))
    assert float(side.within(1.0)[0]) == pytest.approx(within, abs=0.02)


@pytest.mark.parametrize(
    ("moment", "share"),
    [(-0.3, None), (-0.15, 0.02), (0.01, 0.02), (0.3, 0.3), (0.7, 0.7), (0.99, 0.98), (1.05, None)],
)
def test_where_two_straight_sides_meet(moment: float, share: float | None) -> None:
    """Up to a fifth of a window early, for the readings scatter; never nearer to an edge than a fiftieth."""
    one = np.ones(1)
    left = kink_moments._Side(1000.0 * one, 0.0 * one, 2.0 * one, np.array([True]))
    right = kink_moments._Side(
        1000.0 + 100.0 * (1.0 - moment) * one, 100.0 * one, 2.0 * one, np.array([True])
    )
    where, meets = kink_moments._meeting(left, right)
    assert bool(meets[0]) is (share is not None)
    if share is not None:
        assert float(where[0]) == pytest.approx(share, abs=1e-9)


def test_the_moment_of_a_kink_is_exact_between_straight_sides() -> None:
    for share in (0.1, 0.35, 0.5, 0.8):
        kinks: Kinks | None = find_kinks(
            np.ones(20), windows(10.0 + share, 20), np.zeros(20, dtype=np.bool_), ended=True
        )[0]
        assert kinks is not None
        assert kinks.share.tolist() == pytest.approx([share], abs=1e-6)
