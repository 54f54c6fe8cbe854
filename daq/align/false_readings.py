"""Readings that are false though the instrument does not say so, found by looking at both streams.

A tach that counts a mark twice or misses one reads a whole multiple or part of
the true speed while the volts stay where they were; when the throttle really
moves, the volts move too. So each reading is held against the range that the
*other* stream went through in the seconds around it (the lag need not be known
for that), and against its own neighbours.

========================= ==========================================================
mark                      rule
========================= ==========================================================
FALSE_SPEED               outside the range the volts allow, and a multiple (×2, ×3,
                          ×½, ×⅓) of something inside it, or beyond the neighbours
                          on both sides
VOLTAGE_SPIKE             outside the range the speed allows, and beyond the
                          neighbours on both sides
DROPOUT                   under half of the least the speed allows, and the readings
                          next to it that are under the least, cut by the same break
STUCK                     the same digits for 3 s and 6 readings, while the other
                          stream moved by more than 4 %, 5 of its digits, and 3 of
                          the reading's own
STOPPED                   speed under 200 rpm
========================= ==========================================================

A spike of the volts and of the speed at one moment is no false reading of
either: something happened. Persistent multiples (every mark counted twice from
first to last) can't be seen here: the volts stay in proportion.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark

__all__ = ["FalseReadings", "find_false_readings"]

Floats = NDArray[np.float64]
Marks = NDArray[np.uint8]
Flags = NDArray[np.bool_]

REACH_S = 1.5
"""The other stream's range is taken over this much time on either side: more than any two delays differ."""
SLACK = 0.08
"""Share by which a reading may leave the other stream's range."""
_MULTIPLES = (2.0, 3.0, 0.5, 1.0 / 3.0)
STOPPED_RPM = 200.0


@dataclass(frozen=True)
class FalseReadings:
    """Marks for both streams."""

    speed: Marks
    volts: Marks


def find_false_readings(
    speed_t: Floats,
    speed: Floats,
    volts_t: Floats,
    volts: Floats,
    *,
    resolution_v: float = 0.0,
    resolution_rpm: float = 0.0,
    together: bool = True,
) -> FalseReadings:
    """Mark the false readings of both streams.

    Args:
        speed_t: placed times of the speed readings, seconds, rising, shape (n,).
        speed: rpm, NaN where there was none, shape (n,).
        volts_t: placed times of the volts readings, seconds, rising, shape (m,).
        volts: volts, NaN where there was none, shape (m,).
        resolution_v: the meter's last digit.
        resolution_rpm: the tach's last digit.
        together: whether both streams' times belong together to within ``REACH_S``. If not, each is judged
            by its own neighbours alone.
    """
    speed_mark = np.where(np.isfinite(speed), Mark.GOOD, Mark.NO_VALUE).astype(np.uint8)
    volts_mark = np.where(np.isfinite(volts), Mark.GOOD, Mark.NO_VALUE).astype(np.uint8)
    speed_mark[(speed_mark == Mark.GOOD) & (np.abs(np.nan_to_num(speed)) < STOPPED_RPM)] = Mark.STOPPED
    ratio = _usual_ratio(speed_t, speed, speed_mark, volts_t, volts, volts_mark)
    dead = not together or ratio is None or ratio * 1000.0 < max(0.3, 10.0 * resolution_v)
    for _ in range(2):
        implied = None if dead or ratio is None else volts / ratio
        _mark_speed(speed_t, speed, speed_mark, volts_t, implied, volts_mark)
        if implied is not None:
            _mark_volts(volts_t, implied, volts_mark, speed_t, speed, speed_mark)
    if not together:
        volts_mark[_away_from_neighbours(volts_t, volts, volts_mark == Mark.GOOD)] = Mark.VOLTAGE_SPIKE
    if not dead:
        _mark_stuck(volts_t, volts, volts_mark, resolution_v, speed_t, speed, speed_mark, resolution_rpm)
        _mark_stuck(speed_t, speed, speed_mark, resolution_rpm, volts_t, volts, volts_mark, resolution_v)
    return FalseReadings(speed_mark, volts_mark)


def _usual_ratio(
    speed_t: Floats, speed: Floats, speed_mark: Marks, volts_t: Floats, volts: Floats, volts_mark: Marks
) -> float | None:
    """Median of volts over speed: the few false readings do not move it."""
    s, v = speed_mark == Mark.GOOD, volts_mark == Mark.GOOD
    if int(s.sum()) < 3 or int(v.sum()) < 3:
        return None
    near = np.interp(speed_t[s], volts_t[v], volts[v], left=np.nan, right=np.nan)
    ratio = near / speed[s]
    ratio = ratio[np.isfinite(ratio)]
    return float(np.median(ratio)) if len(ratio) else None


def _mark_speed(
    speed_t: Floats, speed: Floats, mark: Marks, volts_t: Floats, implied: Floats | None, volts_mark: Marks
) -> None:
    # Every reading is judged afresh against what is left of the other stream.
    mark[mark == Mark.FALSE_SPEED] = Mark.GOOD
    good = mark == Mark.GOOD
    lonely = _away_from_neighbours(speed_t, speed, good)
    if implied is None:
        low = np.full(len(speed), np.nan)
        high = low
    else:
        low, high = _range_around(speed_t, volts_t, implied, volts_mark == Mark.GOOD)
    unknown = ~np.isfinite(low)
    outside = ~unknown & ((speed < low * (1.0 - SLACK)) | (speed > high * (1.0 + SLACK)))
    multiple = np.zeros(len(speed), dtype=np.bool_)
    for factor in _MULTIPLES:
        part = speed / factor
        multiple |= (part >= low * (1.0 - SLACK)) & (part <= high * (1.0 + SLACK))
    false = good & (
        (outside & (multiple | lonely)) | (unknown & lonely & _multiple_of_neighbours(speed, good))
    )
    mark[false] = Mark.FALSE_SPEED


def _mark_volts(
    volts_t: Floats, implied: Floats, mark: Marks, speed_t: Floats, speed: Floats, speed_mark: Marks
) -> None:
    mark[(mark == Mark.VOLTAGE_SPIKE) | (mark == Mark.DROPOUT)] = Mark.GOOD
    good = mark == Mark.GOOD
    low, high = _range_around(volts_t, speed_t, speed, speed_mark == Mark.GOOD)
    known = np.isfinite(low)
    fallen = good & known & (implied < 0.5 * low)
    beyond = known & ((implied < low * (1.0 - SLACK)) | (implied > high * (1.0 + SLACK)))
    low_side = good & known & (implied < low * (1.0 - SLACK))
    for _ in range(2):  # a window that is cut at its edge falls only in part
        beside = np.zeros_like(fallen)
        beside[1:] |= fallen[:-1]
        beside[:-1] |= fallen[1:]
        fallen |= low_side & beside
    spike = good & ~fallen & beyond & _away_from_neighbours(volts_t, implied, good)
    mark[fallen] = Mark.DROPOUT
    mark[spike] = Mark.VOLTAGE_SPIKE


def _range_around(at_s: Floats, time_s: Floats, value: Floats, good: Flags) -> tuple[Floats, Floats]:
    """Least and greatest good value within ``REACH_S`` of each moment; NaN where there is none."""
    t, v = time_s[good], value[good]
    low, high = np.full(len(at_s), np.nan), np.full(len(at_s), np.nan)
    if len(t) == 0:
        return low, high
    first = np.searchsorted(t, at_s - REACH_S, side="left")
    last = np.searchsorted(t, at_s + REACH_S, side="right")
    some = first < last
    bounds = np.stack((first[some], last[some]), axis=1).ravel()
    padded = np.append(v, np.nan)  # reduceat needs an end that exists
    if len(bounds):
        low[some] = np.minimum.reduceat(padded, bounds)[::2]
        high[some] = np.maximum.reduceat(padded, bounds)[::2]
    return low, high


def _sides(value: Floats, good: Flags) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Good places, with the mean of the two good values before and after each (NaN at the ends)."""
    places = np.flatnonzero(good)
    v = value[places]
    before, after = np.full(len(v), np.nan), np.full(len(v), np.nan)
    if len(v) >= 5:
        pair = 0.5 * (v[:-1] + v[1:])
        before[2:] = pair[:-1]
        after[:-2] = pair[1:]
    return places, before, after


def _away_from_neighbours(time_s: Floats, value: Floats, good: Flags) -> Flags:
    """More than 15 % beyond both the pair before and the pair after, all within 5 s.

    While the speed changes a true reading lies between those pairs, however far they are apart.
    """
    flags = np.zeros(len(value), dtype=np.bool_)
    places, before, after = _sides(value, good)
    if len(places) < 5:
        return flags
    v, t = value[places], time_s[places]
    span = np.full(len(v), np.inf)
    span[2:-2] = t[4:] - t[:-4]
    above, under = np.maximum(before, after), np.minimum(before, after)
    flags[places] = ((v > 1.15 * above) | (v < 0.85 * under)) & (span < 5.0)
    return flags


def _multiple_of_neighbours(value: Floats, good: Flags) -> Flags:
    flags = np.zeros(len(value), dtype=np.bool_)
    places, before, after = _sides(value, good)
    middle = 0.5 * (before + after)
    ratio = value[places] / middle
    near = np.zeros(len(places), dtype=np.bool_)
    for factor in _MULTIPLES:
        near |= np.abs(ratio / factor - 1.0) < SLACK
    flags[places] = near
    return flags


def _mark_stuck(
    time_s: Floats,
    value: Floats,
    mark: Marks,
    digit: float,
    other_t: Floats,
    other: Floats,
    other_mark: Marks,
    other_digit: float,
) -> None:
    """Mark all but the first of a row of equal values over which the other stream moved."""
    good = np.flatnonzero(mark == Mark.GOOD)
    if len(good) < 6:
        return
    v = value[good]
    change = np.flatnonzero(np.diff(v) != 0.0) + 1
    starts = np.concatenate(([0], change))
    ends = np.concatenate((change, [len(v)]))
    usable = other_mark == Mark.GOOD
    t, o = other_t[usable], other[usable]
    for a, b in zip(starts[ends - starts >= 6], ends[ends - starts >= 6], strict=True):
        begin, end = time_s[good[a]], time_s[good[b - 1]]
        if end - begin < 3.0:
            continue
        # A lag at either end is no movement meanwhile.
        inside = o[np.searchsorted(t, begin + REACH_S / 2) : np.searchsorted(t, end - REACH_S / 2)]
        if len(inside) < 2:
            continue
        moved = float(inside.max() - inside.min())
        share = moved / max(float(np.median(inside)), 1e-12)
        # Coarse digits stand still by themselves: the move must be worth a few of them.
        seen = share * abs(float(v[a])) > 3.0 * digit
        if share > 0.04 and moved > 5.0 * other_digit and seen:
            mark[good[a + 1 : b]] = Mark.STUCK
