"""When within a tach window the speed turned sharply, from the windows on either side of it.

A throttle that is moved at once makes a kink in the speed. A polynomial drawn
through it is wrong by a tenth of the step; but the windows before the kink and
those after it are smooth, each side goes on into the window between them, and
where the two meet is the moment::

    n |              o---o---   right side, drawn back
      |           . /
      |   o---o--*              left side, drawn on; * is the moment
      +---|---|----|---|---> windows

(One-sided stencils with the break found inside its cell: subcell resolution,
Harten, Journal of Computational Physics 83, 1989; from memory.) Each side is
A + B·q^s through the means of three windows, s counted in windows away from the
break: a straight line for q = 1, an engine that settles for q < 1. That is all
that is supposed of the engine, and it must prove itself: each side has to
foretell its own window next to the break an eighth as well as the break is
large, and both together the revolutions counted within the broken window.
Where they do not, nothing is changed.

Everything depends on five windows before and four after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["AFFECTED", "Kinks", "find_kinks"]

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

BEFORE, AFTER = 5, 4
AFFECTED = 2
"""Windows on either side of a broken one whose slopes a kink changes."""
_APART = 4
"""A kink so few windows after another is none."""
_LEAST_TURN = 0.001
"""Share of the speed by which a window must lie off the left side to be looked at."""
_LEAST_JUMP = 0.005
_LOOK = 3.0
"""A window that lies off by so many times what the left side missed before may be broken."""
_CLEAR = 8.0
"""A break must be so many times larger than what either side misses next to it."""
_MEET = 0.1
"""Share of the break by which the revolutions within the window may be missed."""
_EVEN = 0.02
"""Windows may differ so much in length."""
_Q_LOW, _Q_HIGH = 0.2, 5.0
_BACK = np.arange(BEFORE + 1)
_AROUND = np.arange(-BEFORE, AFTER + 1)
_GRID = np.linspace(-0.2, 1.0, 49)
_EDGE = 0.02
"""No piece of a broken window is shorter than this share of it."""


@dataclass(frozen=True)
class Kinks:
    """Broken windows; arrays of shape (k,), speeds in the unit of the means."""

    cell: Places
    share: Floats
    """Place of the kink within its window, 0 to 1."""
    left_part: Floats
    """Mean speed before the kink times its share of the window."""
    before: Floats
    """Speed at the left edge of the window before."""
    left_edge: Floats
    kink_left: Floats
    kink_right: Floats
    right_edge: Floats
    after: Floats
    """Speed at the right edge of the window after."""


@dataclass(frozen=True)
class _Side:
    """A + B·q^s; a straight line A + B·s where ``line``."""

    a: Floats
    b: Floats
    q: Floats
    line: NDArray[np.bool_]

    @classmethod
    def through(cls, first: Floats, second: Floats, third: Floats) -> _Side:
        """Through the means of three windows, the first next to the break."""
        d1, d2 = second - first, third - second
        q = np.divide(d2, d1, out=np.full(len(d1), np.inf), where=d1 != 0.0)
        line = ~((q > _Q_LOW) & (q < _Q_HIGH)) | (np.abs(q - 1.0) <= 1e-3)
        safe = np.where(line, 2.0, q)
        log = np.log(safe)
        bend = d1 * log / np.square(safe - 1.0)
        # No steady course: level, or what is left of one further off.
        slope = np.where(q >= _Q_HIGH, 0.5 * (d1 + d2), np.where(q <= _Q_LOW, 0.0, d1))
        slope = np.where(d1 == 0.0, 0.5 * d2, slope)
        b = np.where(line, slope, bend)
        a = np.where(line, first - 0.5 * slope, first - bend * (safe - 1.0) / log)
        return cls(a, b, safe, line)

    def speed(self, s: Floats | float) -> Floats:
        """Speed at s windows from the near edge; negative is inside the break."""
        return np.asarray(self.a + self.b * np.where(self.line, s, self.q**s))

    def within(self, s: Floats | float) -> Floats:
        """Mean over the s windows' length inside the break next to the edge, times s."""
        grown = np.where(self.line, 0.5 * np.square(s), (1.0 - self.q ** (-np.asarray(s))) / np.log(self.q))
        return np.asarray(self.a * s + np.where(self.line, -self.b, self.b) * grown)


def find_kinks(
    length: Floats, mean: Floats, filled: NDArray[np.bool_], *, ended: bool
) -> tuple[Kinks | None, int]:
    """Find the broken windows of a run.

    Args:
        length: of each window, shape (n,).
        mean: speed over each window, shape (n,).
        filled: windows without a reading of their own.
        ended: no more windows will come.

    Returns:
        The kinks, None where there are none; and the first window that may turn
        out broken by readings to come, n where none may.
    """
    n = len(mean)
    if n <= BEFORE:
        return None, n
    cell = _turning(length, mean)
    if len(cell) == 0:
        return None, n
    left = _side(mean, cell, -1)
    off_left = mean[cell] - left.within(1.0)
    missed = np.maximum(_missed(mean, cell - 1, -1), _missed(mean, cell - 2, -1))
    look = np.abs(off_left) > np.maximum(_LOOK * missed, _LEAST_TURN * np.abs(mean[cell]))
    cell, off_left, missed = cell[look], off_left[look], missed[look]
    waiting = cell[cell > n - 1 - AFTER]
    undecided = n if ended or len(waiting) == 0 else int(waiting[0])
    known = cell <= n - 1 - AFTER
    kinks = _proved(length, mean, filled, cell[known], off_left[known], missed[known])
    return kinks, undecided


def _turning(length: Floats, mean: Floats) -> Places:
    """Windows whose speed leaves the straight line of the two before, all of even length: few are looked at more."""
    step = np.diff(mean[BEFORE - 2 :])
    turn = np.diff(step)
    np.abs(turn, out=turn)
    cell = np.flatnonzero(turn > _LEAST_TURN * mean[BEFORE:])
    if len(cell) == 0:
        return cell
    cell += BEFORE
    last = length[cell]
    cell = cell[np.abs(last - length[cell - 1]) <= _EVEN * last]  # most of those that are uneven show here
    lengths = length[cell[:, None] - _BACK]
    even: NDArray[np.bool_] = np.ptp(lengths, axis=1) <= _EVEN * lengths[:, 0]
    return cell[even]


def _side(mean: Floats, cell: Places, way: int) -> _Side:
    return _Side.through(mean[cell + way], mean[cell + 2 * way], mean[cell + 3 * way])


def _missed(mean: Floats, cell: Places, way: int) -> Floats:
    """By how much the three windows beyond a window miss it."""
    return np.abs(mean[cell] - _side(mean, cell, way).within(1.0))


def _proved(
    length: Floats, mean: Floats, filled: NDArray[np.bool_], cell: Places, off_left: Floats, missed: Floats
) -> Kinks | None:
    if len(cell) == 0:
        return None
    near = cell[:, None] + _AROUND
    lengths = length[near]
    even = np.ptp(lengths, axis=1) <= _EVEN * lengths[:, BEFORE]
    missed = np.maximum(missed, _missed(mean, cell + 1, 1))
    left, right = _side(mean, cell, -1), _side(mean, cell, 1)
    off_right = mean[cell] - right.within(1.0)
    jump = np.abs(off_left + off_right)
    clear = jump >= np.maximum(_CLEAR * missed, _LEAST_JUMP * np.abs(mean[cell]))
    share, meets = _meeting(left, right)
    miss = left.within(share) + right.within(1.0 - share) - mean[cell]
    good = even & ~filled[near].any(axis=1) & clear & meets & (np.abs(miss) <= _MEET * jump)
    # By what each window says for itself, so that a long row of them is no chain of decisions.
    apart = np.diff(cell[good], prepend=-_APART - 1) > _APART
    keep = np.flatnonzero(good)[apart]
    if len(keep) == 0:
        return None
    x = share[keep]
    before, inside = left.speed(1.0), left.speed(-share)
    return Kinks(
        cell[keep],
        x,
        (left.within(share) - miss * share)[keep],
        before[keep],
        left.speed(0.0)[keep],
        inside[keep],
        right.speed(share - 1.0)[keep],
        right.speed(0.0)[keep],
        right.speed(1.0)[keep],
    )


def _meeting(left: _Side, right: _Side) -> tuple[Floats, NDArray[np.bool_]]:
    """Where the two sides meet, as a share of the window, and whether they do."""
    columns = [_Side(s.a[:, None], s.b[:, None], s.q[:, None], s.line[:, None]) for s in (left, right)]
    gap = columns[0].speed(-_GRID) - columns[1].speed(_GRID - 1.0)
    crossed = np.signbit(gap[:, 1:]) != np.signbit(gap[:, :-1])
    first = np.argmax(crossed, axis=1)
    row = np.arange(len(gap))
    here, there = gap[row, first], gap[row, first + 1]
    step = np.divide(here, here - there, out=np.zeros(len(gap)), where=here != there)
    share = _GRID[first] + step * (_GRID[1] - _GRID[0])
    return np.clip(share, _EDGE, 1.0 - _EDGE), crossed.any(axis=1)
