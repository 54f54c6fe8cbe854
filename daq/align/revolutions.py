"""Cumulative revolutions R(t) from tach readings, by a local piecewise polynomial.

Dividing volts by the newest rpm is wrong while the speed moves; a mean over the
meter's own window is not. It is taken as a difference of R, and R comes from
the readings in one of two ways:

``contiguous``
    each reading is the mean over a window that ends where the next begins, so
    reading times window is exactly a number of revolutions. R is known at the
    windows' edges and interpolated between them::

        reading     n0      n1      n2
        window   |-------|-------|-------|
        R known  o       o       o       o        cubic Hermite between the edges

    A window in which the throttle was moved at once is drawn in two pieces that
    meet where the speed turned (:mod:`daq.align.kink_moments`).

``sampled``
    each reading is the speed at one moment. Speed is interpolated between the
    readings and integrated exactly::

        reading      n0      n1      n2
        n known      o       o       o             cubic Hermite, then its integral

What happens to holes (``max_gap_s`` is the stated limit; * is a filled place)::

    a reading or two missing, hole <= max_gap_s          hole > max_gap_s
        o   o   *   o   o                                o   o   .   .   .   o   o
        filled from two readings on either side          nothing: R ends and starts anew
        and marked ``bridged``                           no row rests on the hole

Nothing is extrapolated beyond the first and last window. Everything here
depends only on readings a few places away, so feeding in chunks of any size
gives the same bits as feeding at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from daq.align.kink_moments import AFFECTED, Kinks, find_kinks

__all__ = ["CONTEXT", "Segments", "TachModel", "build_segments"]

TachModel = Literal["contiguous", "sampled", "counted"]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

CONTEXT = 20
"""Readings to the left that a segment may depend on, holes included, with room to spare."""


@dataclass(frozen=True)
class Segments:
    """R(t) = r0 + c1 u + c2 u² + c3 u³ + c4 u⁴ with u = (t - start) / length; arrays of shape (m,)."""

    start_s: Floats
    length_s: Floats
    c1: Floats
    c2: Floats
    c3: Floats
    c4: Floats
    bridged: Flags
    final: int
    """How many of them no later reading can change."""

    @classmethod
    def joined(cls, parts: list[Segments]) -> Segments:
        """The final segments of several runs, one after the other."""
        if len(parts) == 1:
            return parts[0]
        if not parts:
            return _nothing()

        def column(name: str) -> Floats:
            return np.concatenate([getattr(p, name)[: p.final] for p in parts])

        return cls(
            column("start_s"),
            column("length_s"),
            column("c1"),
            column("c2"),
            column("c3"),
            column("c4"),
            np.concatenate([p.bridged[: p.final] for p in parts]),
            sum(p.final for p in parts),
        )

    @property
    def increments(self) -> Floats:
        """Revolutions within each segment."""
        return self.c1 + self.c2 + self.c3 + self.c4


def build_segments(
    time_s: Floats,
    value: Floats,
    *,
    model: TachModel,
    period_s: float | None,
    ended: bool,
) -> Segments:
    """Segments of one run of readings without a gap beyond the limit.

    Args:
        time_s: centre of each reading's window, rising strictly, shape (n,).
        value: rpm, or cumulative revolutions where ``model`` is "counted", shape (n,).
        model: how the tach averages.
        period_s: its usual interval, by which holes are seen; None where it has none.
        ended: no further reading belongs to this run.
    """
    if model == "counted":
        return _counted(time_s, value, ended)
    time_s, value, bridged, known = _fill_holes(time_s, value, period_s)
    if not ended:
        time_s, value, bridged = time_s[:known], value[:known], bridged[:known]
    if model == "sampled":
        return _sampled(time_s, value, bridged, ended)
    return _contiguous(time_s, value, bridged, period_s, ended)


def _fill_holes(time_s: Floats, value: Floats, period_s: float | None) -> tuple[Floats, Floats, Flags, int]:
    """Put values where single readings are missing; also how many places are final."""
    n = len(time_s)
    if period_s is None or n < 2:
        return time_s, value, np.zeros(n, dtype=np.bool_), n
    steps = np.rint(np.diff(time_s) / period_s).astype(np.int64)
    holes = np.flatnonzero(steps > 1)
    if len(holes) == 0:
        return time_s, value, np.zeros(n, dtype=np.bool_), n
    at: list[int] = []
    times: list[float] = []
    values: list[float] = []
    for i in holes:
        count = int(steps[i])
        width = (time_s[i + 1] - time_s[i]) / count
        for j in range(1, count):
            t = time_s[i] + width * j
            at.append(int(i) + 1)
            times.append(float(t))
            values.append(_from_neighbours(time_s, value, int(i), float(t)))
    filled_t = np.insert(time_s, at, times)
    filled_v = np.insert(value, at, values)
    bridged = np.insert(np.zeros(n, dtype=np.bool_), at, True)
    last = int(holes[-1])
    unsure = int(steps[last]) if last == n - 2 else 0
    return filled_t, filled_v, bridged, len(filled_t) - unsure


def _from_neighbours(time_s: Floats, value: Floats, i: int, t: float) -> float:
    """Cubic through two readings on either side of the hole after ``i``; a line where a side has only one."""
    if i == 0 or i + 2 >= len(time_s):
        share = (t - time_s[i]) / (time_s[i + 1] - time_s[i])
        return float(value[i] + share * (value[i + 1] - value[i]))
    x, y = time_s[i - 1 : i + 3], value[i - 1 : i + 3]
    total = 0.0
    for j in range(4):
        weight = 1.0
        for k in range(4):
            if k != j:
                weight *= (t - x[k]) / (x[j] - x[k])
        total += weight * y[j]
    return float(total)


def _contiguous(time_s: Floats, rpm: Floats, bridged: Flags, period_s: float | None, ended: bool) -> Segments:
    n = len(time_s)
    if n < 2:
        return _nothing()
    middle = 0.5 * (time_s[1:] + time_s[:-1])
    first = time_s[0] - (0.5 * period_s if period_s else middle[0] - time_s[0])
    last = time_s[-1] + (0.5 * period_s if period_s else time_s[-1] - middle[-1])
    edge = np.concatenate(([first], middle, [last]))
    length = np.diff(edge)
    turns = rpm * length / 60.0
    slope = _edge_slopes(length, turns)
    kinks, undecided = find_kinks(length, rpm, bridged, ended=ended)
    # The last edge and the slopes of the three before it would change with the next reading, and what lies
    # near a window that may turn out broken with the next few.
    final = n if ended else max(0, min(n - 3, undecided - AFFECTED))
    if kinks is None:
        return _hermite(edge[:-1], length, turns, slope[:-1], slope[1:], bridged, final)
    return _broken(edge, length, turns, slope, bridged, final, kinks)


def _broken(
    edge: Floats, length: Floats, turns: Floats, slope: Floats, bridged: Flags, final: int, kinks: Kinks
) -> Segments:
    """Segments with each broken window in two pieces, and slopes beside it that do not look across the kink."""
    at = kinks.cell
    begin, end = slope[:-1].copy(), slope[1:].copy()
    begin[at - 1] = end[at - 2] = kinks.before / 60.0
    begin[at] = end[at - 1] = kinks.left_edge / 60.0
    begin[at + 1] = kinks.right_edge / 60.0
    begin[at + 2] = end[at + 1] = kinks.after / 60.0
    end[at] = kinks.kink_left / 60.0
    first = kinks.share * length[at]
    pieces = np.insert(length, at + 1, length[at] - first)
    parts = np.insert(turns, at + 1, turns[at] - kinks.left_part * length[at] / 60.0)
    starts = np.insert(edge[:-1], at + 1, edge[at] + first)
    begins = np.insert(begin, at + 1, kinks.kink_right / 60.0)
    ends = np.insert(end, at + 1, kinks.right_edge / 60.0)
    moved = at + np.arange(len(at))
    pieces[moved] = first
    parts[moved] = kinks.left_part * length[at] / 60.0
    final += int(np.searchsorted(at, final))
    return _hermite(starts, pieces, parts, begins, ends, np.insert(bridged, at + 1, False), final)


def _counted(time_s: Floats, turns_total: Floats, ended: bool) -> Segments:
    n = len(time_s)
    if n < 2:
        return _nothing()
    length = np.diff(time_s)
    turns = np.diff(turns_total)
    slope = _edge_slopes(length, turns)
    final = n - 1 if ended else max(0, n - 3)
    return _hermite(time_s[:-1], length, turns, slope[:-1], slope[1:], np.zeros(n - 1, dtype=np.bool_), final)


def _hermite(
    start: Floats, length: Floats, turns: Floats, begin: Floats, end: Floats, bridged: Flags, final: int
) -> Segments:
    """Cubics with given revolutions and given slopes at both ends."""
    left, right = length * begin, length * end
    c2 = 3.0 * turns - 2.0 * left - right
    c3 = left + right - 2.0 * turns
    return Segments(start, length, left, c2, c3, np.zeros_like(left), bridged, final)


def _edge_slopes(length: Floats, turns: Floats) -> Floats:
    """dR/dt at the m + 1 edges of m windows: Lagrange's derivative on five edges, on three near the ends."""
    m = len(length)
    mean = turns / length
    slope = np.empty(m + 1)
    if m == 1:
        slope[:] = mean
        return slope
    slope[1:-1] = (mean[:-1] * length[1:] + mean[1:] * length[:-1]) / (length[:-1] + length[1:])
    slope[0] = 2.0 * mean[0] - slope[1]
    slope[-1] = 2.0 * mean[-1] - slope[-2]
    if m >= 4:
        slope[2:-2] = _five_point(length, turns)
    return slope


def _five_point(length: Floats, turns: Floats) -> Floats:
    """Derivative of the quartic through R at five neighbouring edges, at the middle one.

    With x the distance of an edge from the middle one, the weight of R there is
    (1/x) times the product of -y/(x - y) over the other outer edges y (Lagrange).
    """
    h_a, h_b, h_c, h_d = length[:-3], length[1:-2], length[2:-1], length[3:]
    x1, x2 = -h_b, h_c
    x0, x3 = x1 - h_a, x2 + h_d
    r1, r2 = -turns[1:-2], turns[2:-1]
    r0, r3 = r1 - turns[:-3], r2 + turns[3:]
    total = r0 * (x1 * x2 * x3) / (x0 * (x0 - x1) * (x0 - x2) * (x0 - x3))
    total += r1 * (x0 * x2 * x3) / (x1 * (x1 - x0) * (x1 - x2) * (x1 - x3))
    total += r2 * (x0 * x1 * x3) / (x2 * (x2 - x0) * (x2 - x1) * (x2 - x3))
    total += r3 * (x0 * x1 * x2) / (x3 * (x3 - x0) * (x3 - x1) * (x3 - x2))
    return -total


def _sampled(time_s: Floats, rpm: Floats, bridged: Flags, ended: bool) -> Segments:
    n = len(time_s)
    if n < 2:
        return _nothing()
    length = np.diff(time_s)
    rise = np.diff(rpm)
    slope = np.empty(n)
    if n == 2:
        slope[:] = rise / length
    else:
        mean = rise / length
        slope[1:-1] = (mean[:-1] * length[1:] + mean[1:] * length[:-1]) / (length[:-1] + length[1:])
        slope[0] = 2.0 * mean[0] - slope[1]
        slope[-1] = 2.0 * mean[-1] - slope[-2]
    left, right = length * slope[:-1], length * slope[1:]
    c1 = length * rpm[:-1] / 60.0
    c2 = length * left / 120.0
    c3 = length * (3.0 * rise - 2.0 * left - right) / 180.0
    c4 = length * (left + right - 2.0 * rise) / 240.0
    final = n - 1 if ended else max(0, n - 2)
    return Segments(time_s[:-1], length, c1, c2, c3, c4, bridged[:-1] | bridged[1:], final)


def _nothing() -> Segments:
    none = np.empty(0)
    return Segments(none, none, none, none, none, none, np.empty(0, dtype=np.bool_), 0)
