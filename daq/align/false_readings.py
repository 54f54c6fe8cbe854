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
                          the reading's own; or by 1.2 %, where it moved smoothly
                          and not by its own scatter from reading to reading
STOPPED                   speed under 200 rpm, and volts that fell away beside it
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
from daq.align.parts import parts
from daq.align.quick import quick_changes
from daq.align.ranges import equal_rows, range_between
from daq.align.sudden import sudden_levels
from daq.align.two_cores import each_part

__all__ = ["FalseReadings", "find_false_readings"]

Floats = NDArray[np.float64]
Marks = NDArray[np.uint8]
Flags = NDArray[np.bool_]

REACH_S = 1.5
"""The other stream's range is taken over this much time on either side, more than any two delays differ, and one
of its own intervals more: what it went through between two readings is not known."""
SLACK = 0.08
"""Share by which a reading may leave the other stream's range."""
_MULTIPLES = (2.0, 3.0, 0.5, 1.0 / 3.0)
_SAMPLE = 50_000
"""Readings from which the usual ratio of very long runs is taken."""
_MOST_TOGETHER = 64
"""Neighbouring readings that are cleared by one look at the other stream, at most; divides a part."""
_STUCK, _STUCK_SMOOTH = 0.04, 0.012
_SMOOTH_READINGS, _SMOOTH = 8, 0.75
_FEW_SUDDEN = 0.15
"""From this share of readings on at a multiple it can't be told which of them are right."""
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
    speed_mark, volts_mark = _valued(speed), _valued(volts)
    speed_mark[(speed_mark == Mark.GOOD) & _slow(speed)] = Mark.STOPPED
    ratio = _usual_ratio(speed_t, speed, speed_mark, volts_t, volts, volts_mark)
    dead = not together or ratio is None or ratio * 1000.0 < max(0.3, 10.0 * resolution_v)
    for _ in range(2):
        implied = None if dead or ratio is None else volts / ratio
        _mark_speed(speed_t, speed, speed_mark, volts_t, implied, volts_mark)
        if implied is not None:
            _mark_volts(volts_t, implied, volts_mark, speed_t, speed, speed_mark)
        if not _any_false(speed_mark) and not _any_false(volts_mark):
            break  # the second look would see the same
    if not together:
        _mark_sudden(speed_t, speed, speed_mark, volts_t, volts, volts_mark)
        good = volts_mark == Mark.GOOD
        places = np.flatnonzero(good)
        away, _ = _beside_neighbours(volts_t, volts, good, places)
        volts_mark[places[away]] = Mark.VOLTAGE_SPIKE
    standing_s = speed_t[speed_mark == Mark.STOPPED]
    if not dead and len(standing_s):
        _mark_standing(volts_t, volts_mark, standing_s)
    if not dead:
        _mark_stuck(volts_t, volts, volts_mark, resolution_v, speed_t, speed, speed_mark, resolution_rpm)
        _mark_stuck(speed_t, speed, speed_mark, resolution_rpm, volts_t, volts, volts_mark, resolution_v)
    return FalseReadings(speed_mark, volts_mark)


def _valued(value: Floats) -> Marks:
    mark = np.full(len(value), Mark.GOOD, np.uint8)
    mark[~np.isfinite(value)] = Mark.NO_VALUE
    return mark


def _slow(speed: Floats) -> Flags:
    slow = np.empty(len(speed), dtype=np.bool_)
    for part in parts(len(speed)):
        slow[part] = np.abs(speed[part]) < STOPPED_RPM
    return slow


def _mark_sudden(
    speed_t: Floats, speed: Floats, mark: Marks, volts_t: Floats, volts: Floats, volts_mark: Marks
) -> None:
    """Mark what lies at a multiple of the most from one reading to the next, where no shift makes the volts follow."""
    good, known = np.flatnonzero(mark == Mark.GOOD), volts_mark != Mark.NO_VALUE
    levels = sudden_levels(speed_t[good], speed[good], volts_t[known], volts[known])
    if levels is not None and float(np.mean(levels != 0.0)) < _FEW_SUDDEN:
        mark[good[levels != 0.0]] = Mark.FALSE_SPEED


def _kept(good: Flags, time_s: Floats, value: Floats) -> tuple[Floats, Floats]:
    """The chosen readings; no copies where all are."""
    return (time_s, value) if bool(good.all()) else (time_s[good], value[good])


def _any_false(mark: Marks) -> bool:
    return any(bool((mark == false).any()) for false in (Mark.FALSE_SPEED, Mark.VOLTAGE_SPIKE, Mark.DROPOUT))


def _usual_ratio(
    speed_t: Floats, speed: Floats, speed_mark: Marks, volts_t: Floats, volts: Floats, volts_mark: Marks
) -> float | None:
    """Volts over speed as most readings have it: false readings do not move it, though they be half of all."""
    good, v = speed_mark == Mark.GOOD, volts_mark == Mark.GOOD
    count = int(np.count_nonzero(good))
    if count < 3 or int(np.count_nonzero(v)) < 3:
        return None
    # Not every n-th: a tach that counts every second turn twice would beat with that.
    s = np.arange(count) if count <= _SAMPLE else np.random.default_rng(1).integers(0, count, _SAMPLE)
    if count > _SAMPLE:
        s.sort()
    if count < len(good):
        s = np.flatnonzero(good)[s]
    known_t, known = _kept(v, volts_t, volts)
    near = np.interp(speed_t[s], known_t, known, left=np.nan, right=np.nan)
    ratio = near / speed[s]
    ratio = ratio[np.isfinite(ratio)]
    if len(ratio) == 0:
        return None
    # Where two levels are about equally many, the middle lies between them and is neither.
    levels = np.quantile(ratio, (0.5, 0.25, 0.75)).tolist()
    shares = [int(np.sum(np.abs(ratio - level) <= SLACK * abs(level))) for level in levels]
    # The middle stands unless another level has clearly more to itself: bent or noisy volts have one level.
    best = int(np.argmax(shares))
    return float(levels[best] if shares[best] > 1.5 * shares[0] else levels[0])


def _mark_speed(
    speed_t: Floats, speed: Floats, mark: Marks, volts_t: Floats, implied: Floats | None, volts_mark: Marks
) -> None:
    # Every reading is judged afresh against what is left of the other stream.
    mark[mark == Mark.FALSE_SPEED] = Mark.GOOD
    good = mark == Mark.GOOD
    if implied is None:
        doubted = np.flatnonzero(good)
        low = high = np.full(len(doubted), np.nan)
    else:
        other = volts_mark == Mark.GOOD
        doubted, low, high = _doubted(speed_t, speed, good, *_kept(other, volts_t, implied))
    if len(doubted) == 0:
        return
    lonely, multiple_of_neighbours = _beside_neighbours(speed_t, speed, good, doubted)
    at = speed[doubted]
    unknown = ~np.isfinite(low)
    outside = ~unknown & ((at < low * (1.0 - SLACK)) | (at > high * (1.0 + SLACK)))
    multiple = np.zeros(len(at), dtype=np.bool_)
    for factor in _MULTIPLES:
        part = at / factor
        multiple |= (part >= low * (1.0 - SLACK)) & (part <= high * (1.0 + SLACK))
    false = (outside & (multiple | lonely)) | (unknown & lonely & multiple_of_neighbours)
    mark[doubted[false]] = Mark.FALSE_SPEED


def _mark_volts(
    volts_t: Floats, implied: Floats, mark: Marks, speed_t: Floats, speed: Floats, speed_mark: Marks
) -> None:
    mark[(mark == Mark.VOLTAGE_SPIKE) | (mark == Mark.DROPOUT)] = Mark.GOOD
    good = mark == Mark.GOOD
    other = speed_mark == Mark.GOOD
    doubted, low, high = _doubted(volts_t, implied, good, *_kept(other, speed_t, speed))
    if len(doubted) == 0:
        return
    at = implied[doubted]
    fallen, low_side = np.zeros(len(implied), np.bool_), np.zeros(len(implied), np.bool_)
    fallen[doubted] = at < 0.5 * low
    low_side[doubted] = at < low * (1.0 - SLACK)
    beyond = low_side[doubted] | (at > high * (1.0 + SLACK))
    for _ in range(2):  # a window that is cut at its edge falls only in part
        beside = np.zeros_like(fallen)
        beside[1:] |= fallen[:-1]
        beside[:-1] |= fallen[1:]
        fallen |= low_side & beside
    lonely, _ = _beside_neighbours(volts_t, implied, good, doubted)
    spikes = np.zeros_like(fallen)
    spikes[doubted[beyond & lonely]] = True
    if bool(np.any(fallen | spikes)):
        # The tach averages: how far the speed went in a quick change, its readings do not show.
        quick = quick_changes(speed_t[other], speed[other], longest_s=2.0 * REACH_S)
        shown = ~quick.beside(volts_t, 0.0, None)
        fallen, spikes = fallen & shown, spikes & shown
    mark[spikes] = Mark.VOLTAGE_SPIKE
    mark[fallen] = Mark.DROPOUT


def _mark_standing(volts_t: Floats, mark: Marks, standing_s: Floats) -> None:
    """Volts that fell away beside an engine that stood, for it fell away itself."""
    fallen = np.flatnonzero(mark == Mark.DROPOUT)
    at_s = volts_t[fallen]
    near = np.searchsorted(standing_s, at_s + REACH_S) > np.searchsorted(standing_s, at_s - REACH_S)
    mark[fallen[near]] = Mark.STOPPED


def _doubted(
    at_s: Floats, value: Floats, good: Flags, other_t: Floats, other: Floats
) -> tuple[NDArray[np.intp], Floats, Floats]:
    """The good readings that may lie outside the other stream's range around them, and that range.

    Most readings are cleared by the few that all neighbours of a block have in
    their reach: who is inside that narrower range is inside its own.

    Returns:
        Places of those left, and the least and greatest other value within
        reach of each; NaN where there is none.
    """
    reach_s = _reach(other_t)
    doubted = np.flatnonzero(good & ~_surely_inside(at_s, value, other_t, other, reach_s))
    low, high = range_between(other_t, other, at_s[doubted] - reach_s, at_s[doubted] + reach_s)
    return doubted, low, high


def _reach(other_t: Floats) -> float:
    return REACH_S + (min(float(np.median(np.diff(other_t[:_SAMPLE]))), REACH_S) if len(other_t) > 1 else 0.0)


def _surely_inside(at_s: Floats, value: Floats, other_t: Floats, other: Floats, reach_s: float) -> Flags:
    inside = np.zeros(len(at_s), dtype=np.bool_)
    together = _together(at_s)
    used = len(at_s) // together * together
    if used == 0 or len(other_t) == 0:
        return inside

    def look(part: slice) -> None:
        first_s, last_s = at_s[part][::together], at_s[part][together - 1 :: together]
        near = slice(*np.searchsorted(other_t, (first_s[0] - reach_s, last_s[-1] + reach_s)).tolist())
        low, high = range_between(other_t[near], other[near], last_s - reach_s, first_s + reach_s)
        low, high = low[:, None] * (1.0 - SLACK), high[:, None] * (1.0 + SLACK)
        values = value[part].reshape(-1, together)
        inside[part] = ((values >= low) & (values <= high)).ravel()

    each_part(used, look)
    return inside


def _together(at_s: Floats) -> int:
    """Readings within about half the reach: more have little in reach of them all, of fewer there are too many."""
    some = at_s[:_SAMPLE]
    usual_s = float(some[-1] - some[0]) / (len(some) - 1) if len(some) > 1 else REACH_S
    fit = int(min(REACH_S / usual_s, _MOST_TOGETHER)) if usual_s > 0.0 else _MOST_TOGETHER
    return 1 << max(fit.bit_length() - 1, 0)


def _beside_neighbours(
    time_s: Floats, value: Floats, good: Flags, chosen: NDArray[np.intp]
) -> tuple[Flags, Flags]:
    """How chosen good readings stand to the two good ones before and the two after them.

    Returns:
        Whether each lies more than 15 % beyond both pairs, all within 5 s: while the
        speed changes a true reading lies between those pairs, however far they are
        apart. And whether it is about a multiple of their middle. False for the
        first two and last two readings.
    """
    away, multiple = np.zeros(len(chosen), np.bool_), np.zeros(len(chosen), np.bool_)
    places = np.flatnonzero(good)
    rank = np.searchsorted(places, chosen)
    inner = np.flatnonzero((rank >= 2) & (rank < len(places) - 2))
    if len(inner) == 0:
        return away, multiple
    around = places[rank[inner] + np.arange(-2, 3)[:, None]]  # shape (5, n)
    v, t = value[around], time_s[around]
    before, after = 0.5 * (v[0] + v[1]), 0.5 * (v[3] + v[4])
    far = (v[2] > 1.15 * np.maximum(before, after)) | (v[2] < 0.85 * np.minimum(before, after))
    away[inner] = far & (t[4] - t[0] < 5.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = v[2] / (0.5 * (before + after))
    multiple[inner] = np.any([np.abs(ratio / factor - 1.0) < SLACK for factor in _MULTIPLES], axis=0)
    return away, multiple


def _smooth(value: Floats) -> bool:
    """Neighbouring readings differ little beside how far all go: an engine that hunts, and no scatter."""
    if len(value) < _SMOOTH_READINGS:
        return False
    own = 0.5 * float(np.mean(np.square(np.diff(value))))
    return own < (1.0 - _SMOOTH) * float(np.var(value))


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
    counts = mark == Mark.GOOD
    _, v = _kept(counts, time_s, value)
    starts, ends = equal_rows(v, 6)
    if len(starts) == 0:
        return
    good = np.flatnonzero(counts)
    t, o = _kept(other_mark == Mark.GOOD, other_t, other)
    begin, end = time_s[good[starts]], time_s[good[ends - 1]]
    long = np.flatnonzero(end - begin >= 3.0)
    # A lag at either end is no movement meanwhile.
    begin, end = begin[long] + REACH_S / 2, end[long] - REACH_S / 2
    low, high = range_between(t, o, begin, end)
    # The share is taken of the middle, which is no less than the least: only these can have moved enough.
    moving = (high - low > 5.0 * other_digit) & (high - low > _STUCK_SMOOTH * low)
    for row, a, b in zip(long[moving], begin[moving], end[moving], strict=True):
        inside = o[np.searchsorted(t, a) : np.searchsorted(t, b, side="right")]
        share = float(inside.max() - inside.min()) / max(float(np.median(inside)), 1e-12)
        # Coarse digits stand still by themselves: the move must be worth a few of them.
        seen = share * abs(float(v[starts[row]])) > 3.0 * digit
        if seen and (share > _STUCK or (share > _STUCK_SMOOTH and _smooth(inside))):
            mark[good[starts[row] + 1 : ends[row]]] = Mark.STUCK
