"""Puts a periodic instrument on a smooth clock, so that USB and radio jitter does not become speed error.

Arrival stamps of an instrument that reads at a steady pace scatter around a
straight line against the count of readings: offset + pace x count + lateness.
The line is fitted robustly, so a late burst after a stall doesn't bend it::

    stamps     |   |   |   |           ||||   |   |      a stall, then a burst
    placed     |   |   |   |   |   |   |  |   |   |      the pace goes on

After a gap, and where the pace or phase jumps for good (the instrument was
restarted, a clock was set), a new piece starts with a line of its own. A piece
is placed by local lines of at most ``BLOCK`` readings joined at their middles,
so that a crystal that drifts with its temperature over hours is followed.

Instruments that answer when asked, or at no steady pace, keep their stamps.
Stamps too coarse for the pace have their own rule (:mod:`daq.align.coarse_stamps`).

The line's constant is the mean lateness of the readings. It can't be told from
the run alone and need not: it is part of the lag.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.coarse_stamps import find_coarse_stamps
from daq.align.median import median
from daq.align.parts import LONG, parts, spread

__all__ = ["BLOCK", "TimeBase", "fit_time_base", "rising"]

Floats = NDArray[np.float64]

BLOCK = 512
"""Readings on which one local line rests."""
_LEAST = 8
"""Fewer readings than this say nothing of a pace."""
_GROUP = 16
"""Readings whose lower quarter stands for the phase where jumps are looked for."""
_QUARTER = (_GROUP - 1) // 4
"""Place in an ordered group below which a quarter of it lies."""
_GROUPS_APART = 4
"""Of very many readings every fourth group is looked at: a restart lasts, and few of so many."""
_EVERY = 8
"""Of very many readings every eighth says the phase of its block, well within the half beat it is wanted for."""
_LOOSE = 0.35
"""Scatter beyond this share of the interval means that there is no steady pace."""


_MOST_TURNS = 8.0 * BLOCK
"""Beats over which a pace is sought at most; a window without holes has as many as readings."""
_HOLE = 64.0
"""Beats without a reading that part a window which is longer."""


@dataclass(frozen=True)
class TimeBase:
    """Where the readings of one channel belong in time."""

    time_s: Floats
    """Placed times, rising strictly, shape (n,)."""
    period_s: float | None
    """The instrument's pace; None where it keeps none and the stamps stand as they are."""
    jitter_s: float
    """Robust standard deviation of the stamps around the smooth clock; 0 where there is none."""
    pieces: int
    """How many clocks were needed: 1 plus the restarts seen."""
    coarse_step_s: float = 0.0
    """Step of the stamps where several readings share one, as whole seconds; 0 where they are fine enough."""
    burst_s: float = 0.0
    """Time from one burst to the next where readings arrive several at once; 0 where they come one by one."""


def fit_time_base(stamp_s: Floats, *, periodic: bool | None = None, guess_s: float | None = None) -> TimeBase:
    """Fit a smooth clock to arrival stamps.

    Args:
        stamp_s: arrival, seconds, not falling, shape (n,).
        periodic: what the card says; None to judge by the stamps.
        guess_s: about the pace, within 8 %; None to take the middle of the intervals.
    """
    n = len(stamp_s)
    if n < _LEAST or periodic is False:
        return TimeBase(rising(stamp_s), None, 0.0, 1)
    coarse = find_coarse_stamps(stamp_s)
    if coarse is not None:
        spread_s = coarse.step_s / 12.0**0.5 if coarse.period_s is not None else 0.0
        return TimeBase(rising(coarse.time_s), coarse.period_s, spread_s, 1, coarse.step_s)
    period = _pace(stamp_s, guess_s)
    if period <= 0.0:
        return TimeBase(rising(stamp_s), None, 0.0, 1)
    placed = np.empty(n)
    counts = _counts(stamp_s, period)
    pieces = _pieces(stamp_s, period, counts)
    for piece in pieces:
        own = counts if len(pieces) == 1 else _counts(stamp_s[piece], period)
        _place_piece(stamp_s[piece], period, own, placed[piece])
    some = spread(n)
    jitter = _robust_sd(stamp_s[some] - placed[some])
    if jitter > _LOOSE * period:
        return TimeBase(rising(stamp_s), None, 0.0, 1)
    return TimeBase(rising(placed), period, jitter, len(pieces))


def _pace(stamp_s: Floats, guess_s: float | None = None) -> float:
    """Interval between readings; 0 where the stamps stand still.

    The middle of the differences is a first guess; then the interval is taken
    at which the stamps, wrapped round a circle of that length, lie closest
    together. That uses the whole run, and a stall or a missing reading costs
    nothing.
    """
    some = spread(len(stamp_s) - 1)
    steps = np.diff(stamp_s) if isinstance(some, slice) else stamp_s[some + 1] - stamp_s[some]
    usual = median(steps[steps > 0.0]) if bool(np.any(steps > 0.0)) else 0.0
    guess = usual if guess_s is None else guess_s
    if guess <= 0.0:
        return 0.0
    # Windows of their own, and the middle of what they say: a restart spoils one of them only.
    width = min(BLOCK, max(32, len(stamp_s) // 8))
    starts = np.linspace(0, max(0, len(stamp_s) - width), max(1, min(15, len(stamp_s) // width))).astype(int)
    paces = [_pace_of_window(stamp_s[a : a + width], guess) for a in starts]
    return median(np.array(paces))


def _pace_of_window(stamp_s: Floats, guess_s: float) -> float:
    sample = stamp_s - stamp_s[0]
    if float(sample[-1]) > _MOST_TURNS * guess_s:
        sample = _longest_stretch(sample, guess_s)
    turns = min(max(float(sample[-1]) / guess_s, 1.0), _MOST_TURNS)
    share, reach = 0.25 / turns, 0.08
    trial = guess_s * (1.0 + np.arange(-reach, reach + share, share))
    best = guess_s
    for _ in range(2):
        best = float(trial[int(np.argmax(_together(sample, trial)))])
        trial = best * (1.0 + np.linspace(-share, share, 17))
        share /= 8.0
    return best


def _together(sample: Floats, trial: Floats) -> NDArray[np.float32]:
    """How close together the stamps lie when wrapped round circles of these lengths, shape (len(trial),).

    Half the digits do, once whole turns are taken away: which circle is best shows in the first ones.
    """
    turns = sample / trial[:, None]
    turns -= np.rint(turns)
    angle = (2.0 * np.pi * turns).astype(np.float32)
    return np.asarray(np.hypot(np.cos(angle).sum(axis=1), np.sin(angle).sum(axis=1)))


def _longest_stretch(sample: Floats, guess_s: float) -> Floats:
    """The most readings in a row without a hole: across a day no clock keeps its beat, and the search is as long."""
    ends = np.concatenate(([0], np.flatnonzero(np.diff(sample) > _HOLE * guess_s) + 1, [len(sample)]))
    longest = int(np.argmax(np.diff(ends)))
    stretch = sample[ends[longest] : ends[longest + 1]]
    return np.asarray(stretch - stretch[0])


def _counts(stamp_s: Floats, period_s: float) -> NDArray[np.int64]:
    """Running count of readings with the missing ones counted in.

    Each reading is rounded to the nearest beat of its block's phase. Read
    backwards, a count may only fall: a burst that came late then takes the
    beats before the first reading that is on time again.
    """
    n = len(stamp_s)
    starts = np.arange(0, n, BLOCK)
    phase = np.empty(len(starts))
    every = 1 if n <= LONG else _EVERY
    for part in parts(n):
        beats = (stamp_s[part][::every] - stamp_s[0]) / period_s
        angle = 2.0 * np.pi * (beats - np.rint(beats))
        at = np.arange(0, len(angle), BLOCK // every)
        y, x = np.add.reduceat(np.sin(angle), at), np.add.reduceat(np.cos(angle), at)
        phase[part.start // BLOCK :][: len(at)] = np.arctan2(y, x) / (2.0 * np.pi)
    turns = np.unwrap(phase, period=1.0)
    count = np.empty(n, dtype=np.int64)
    falls = False
    for part in parts(n):
        beats = stamp_s[part] - stamp_s[0]
        beats /= period_s
        beats -= np.repeat(turns[part.start // BLOCK : -(-part.stop // BLOCK)], BLOCK)[: len(beats)]
        count[part] = np.rint(beats, out=beats)
        rising = count[max(0, part.start - 1) : part.stop]
        falls = falls or not bool((rising[1:] > rising[:-1]).all())
    if falls:
        places = np.arange(n)
        count -= places
        np.minimum.accumulate(count[::-1], out=count[::-1])
        count += places
    count -= int(count[0])
    return count


def _pieces(stamp_s: Floats, period_s: float, counts: NDArray[np.int64]) -> list[slice]:
    """Cut where a gap is long, and where the phase jumps and stays."""
    # Counted in missing readings: a stall with a burst after it has lost none and is no gap.
    gap = max(8.0, 3.0 / period_s)
    cuts = {
        part.start + cut + 1
        for part in parts(len(counts))
        for cut in np.flatnonzero(np.diff(counts[part.start : part.stop + 1]) > gap).tolist()
    }
    bounds = [0, *sorted(cuts), len(stamp_s)]
    for a, b in zip(bounds[:-1], bounds[1:], strict=True):
        own = counts if len(bounds) == 2 else _counts(stamp_s[a:b], period_s)
        cuts.update(a + c for c in _phase_jumps(stamp_s[a:b], period_s, own))
    bounds = [0, *sorted(cuts), len(stamp_s)]
    return [slice(a, b) for a, b in zip(bounds[:-1], bounds[1:], strict=True)]


def _phase_jumps(stamp_s: Floats, period_s: float, counts: NDArray[np.int64]) -> list[int]:
    """Places where the phase differs for good before and after: levels of groups of readings tell."""
    every = _GROUP * (1 if len(stamp_s) <= LONG else _GROUPS_APART)
    groups = len(stamp_s) // every
    if groups < 3:
        return []
    levels = np.empty(groups)
    for part in parts(groups * every):
        here = (slice(None), slice(0, _GROUP))
        residual = stamp_s[part].reshape(-1, every)[here] - period_s * counts[part].reshape(-1, every)[here]
        # The lower quarter: whatever delays a reading makes it late, never early.
        levels[part.start // every :][: len(residual)] = _lower_quarter(residual)
    # A burst that came late spoils one group, a restart all that follow: the middle of three groups tells.
    levels[1:-1] = np.median(np.stack((levels[:-2], levels[1:-1], levels[2:])), axis=0)
    # Two groups on, so that a group with the jump inside it does not halve the step.
    change = levels[2:] - levels[:-2]
    change = change - median(change)
    limit = max(8.0 * _robust_sd(change), 0.12 * period_s)
    above = np.abs(change) > limit
    edges = np.flatnonzero(np.diff(np.concatenate(([0], above.astype(np.int8), [0]))))
    jumps = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if bool(np.all(change[a:b] > 0.0)) or bool(np.all(change[a:b] < 0.0)):
            middle = (a + b + 1) * every // 2
            near = slice(max(0, middle - 2 * every), middle + 2 * every)
            jumps.append(near.start + _sharpest(stamp_s[near] - period_s * counts[near]))
    return jumps


def _lower_quarter(groups: Floats) -> Floats:
    """The quarter of each row of ``_GROUP`` values, shape (n,), as :func:`numpy.quantile` has it."""
    groups.partition((_QUARTER, _QUARTER + 1), axis=1)
    below, above = groups[:, _QUARTER], groups[:, _QUARTER + 1]
    return np.asarray(above - (above - below) * (1.0 - (0.25 * (_GROUP - 1) - _QUARTER)))


def _sharpest(part: Floats) -> int:
    """The cut that leaves the least scatter on its two sides."""
    costs = [
        float(np.abs(part[:c] - np.median(part[:c])).sum() + np.abs(part[c:] - np.median(part[c:])).sum())
        for c in range(1, len(part))
    ]
    return 1 + int(np.argmin(costs))


def _place_piece(stamp_s: Floats, period_s: float, counts: NDArray[np.int64], placed: Floats) -> None:
    """Put a piece's times into ``placed``."""
    n = len(stamp_s)
    if n < _LEAST:
        # Too few for a slope of their own: the common pace, shifted to their middle.
        count = counts.astype(np.float64)
        placed[:] = np.median(stamp_s - period_s * count) + period_s * count
        return
    if n <= 2 * BLOCK:
        count = counts.astype(np.float64)
        offset, pace = _robust_line(count, stamp_s)
        placed[:] = offset + pace * count
        return
    blocks = n // BLOCK
    level = np.empty(blocks)
    for part in parts(blocks * BLOCK):
        residual = (stamp_s[part] - period_s * counts[part]).reshape(-1, BLOCK)
        residual.partition((BLOCK // 2 - 1, BLOCK // 2), axis=1)
        middles = 0.5 * (residual[:, BLOCK // 2 - 1] + residual[:, BLOCK // 2])
        level[part.start // BLOCK :][: len(middles)] = middles
    middle = counts[BLOCK // 2 : blocks * BLOCK : BLOCK].astype(np.float64)
    slope = np.diff(level) / np.diff(middle)
    inside = slice(BLOCK // 2, BLOCK // 2 + (blocks - 1) * BLOCK)
    for part in parts((blocks - 1) * BLOCK):
        count = counts[inside][part].astype(np.float64).reshape(-1, BLOCK)
        own = slice(part.start // BLOCK, -(-part.stop // BLOCK))
        away = count - middle[:-1][own, None]
        away *= slope[own, None]
        away += level[:-1][own, None]
        count *= period_s
        np.add(count, away, out=placed[inside][part].reshape(-1, BLOCK))
    # Beyond the outer middles the nearest slope goes on.
    for side, i in ((slice(0, inside.start), 0), (slice(inside.stop, n), -1)):
        count = counts[side].astype(np.float64)
        placed[side] = period_s * count + level[i] + slope[i] * (count - middle[i])


def _robust_line(x: Floats, y: Floats) -> tuple[float, float]:
    """Straight line by Tukey's biweight, started from the medians of the two halves."""
    x0, y0 = float(x[0]), float(y[0])
    dx, dy = x - x0, y - y0
    third = max(1, len(x) // 3)
    rise = median(dy[-third:]) - median(dy[:third])
    pace = rise / (median(dx[-third:]) - median(dx[:third]))
    offset = median(dy - pace * dx)
    for _ in range(6):
        r = dy - offset - pace * dx
        scale = 4.685 * max(_robust_sd(r), 1e-9)
        w = np.square(np.clip(1.0 - np.square(r / scale), 0.0, None))
        total = float(w.sum())
        if total <= 2.0:
            break
        mx, my = float(w @ dx) / total, float(w @ dy) / total
        sxx = float(w @ np.square(dx - mx))
        if sxx <= 0.0:
            break
        pace = float(w @ ((dx - mx) * (dy - my))) / sxx
        offset = my - pace * mx
    return y0 + offset - pace * x0, pace


def _robust_sd(x: Floats) -> float:
    """1.4826 x the median absolute deviation (equals the standard deviation for a normal scatter)."""
    return 1.4826 * median(np.abs(x - median(x)), overwrite=True) if len(x) else 0.0


def rising(time_s: Floats) -> Floats:
    """The same times, nudged by a nanosecond where two would stand on each other."""
    if all(bool(np.all(np.diff(time_s[part.start : part.stop + 1]) > 0.0)) for part in parts(len(time_s))):
        return time_s
    nudged = time_s + 1e-9 * np.arange(len(time_s))
    rising: Floats = np.maximum.accumulate(nudged) + 1e-9 * np.arange(len(time_s))
    return rising
