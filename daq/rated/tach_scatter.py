"""How a tach scatters by itself, beside volts that say how fast the engine turned: evenly, or to one side.

A tach that misses a mark now and then reads low and never high: its mean is no
longer that of the engine, and the output scaled by it is too high. Scatter
that is even about the true speed costs nothing. Each reading of the slower
stream is held against the mean of the other over the same window, so that what
the engine does is in both and what is left is what the instruments do alone.

================ ======================================================================
what is left      half width of what may be wrong with the mean, as a share of the speed
================ ======================================================================
one-sided         2·sd over the skewness: the mean of a scatter of the gamma kind, which
                  an exponential one is; that of missed marks in Poisson's numbers is half
                  of it, and is wrong at the least
even              sd² times the marks in a window: what single marks missed at random
                  would do, were all the scatter theirs; up to sd where chance leaves
                  open that it is one-sided
wild              beyond ``WILD`` nothing can be said of the mean
================ ======================================================================

Skewness is that of the residuals, clipped far out;
of an even scatter its standard error is √(6/n) (from memory). The limits are
judgements, common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from daq.align.scatter import correlation_time, robust_sd
from daq.rated.following import Track

__all__ = ["WILD", "TachScatter", "find_tach_scatter"]

Floats = NDArray[np.float64]

WILD = 0.03
_LEAST = 0.0025
"""Share of the speed under which a scatter is not looked at."""
_FEW = 20
_BETWEEN, _IN_HOLES = 0.12, (0.4, 0.25)
"""Shares of what volts, and speed, bend from reading to reading that the engine may do between two readings.

Where the meter is slower than the tach it may look only part of the time.
"""
_CLIP = 4.0
_SINGLE = 0.05
"""Share within which no reading is clipped, though most others stand closer together: a mark or two missed in many."""
_QUICK = 0.06
"""Share by which the volts may change from the reading before to that after; beyond, a window's place matters."""
_SHIFTS_S = tuple(0.1 * k for k in range(-8, 9) if k)
"""Tried where the lag is not known."""
_SURE = 3.0
"""Standard errors from which on a skewness is taken for one."""
_BEYOND_CHANCE = 4.0
"""The same for what is refused: that of few even readings goes beyond three more often than that of many."""
_SKEW = 0.4
_ENGINE_TOO, _SLOW_S = 0.5, 0.7
"""Least share of the scatter by which the volts move where it may be an engine beside volts of another moment, and the
time from which on readings apart may miss how it hunts (common practice, no source)."""
_MOST_READINGS = 20_000
_PIECES, _IN_PIECE = 16, 1_000


@dataclass(frozen=True)
class TachScatter:
    """What the tach does by itself."""

    kind: Literal["one_sided", "even", "wild"]
    sd: float
    """Standard deviation of a reading, as a share of the speed."""
    low: bool
    """It reaches further below the others than above them."""
    half_width: float
    """Of what may be wrong with the mean speed, as a share."""
    at_least: float = 0.0
    """What is likely wrong with it at the least, where the scatter is one-sided beyond chance."""
    or_engine: bool = False
    """The lag isn't known and the volts move too: an engine that hunts faster than is read looks the same."""


def find_tach_scatter(
    speed: Track,
    volts: Track,
    *,
    lag_known: bool,
    together: bool = True,
    marks_per_revolution: float = 1.0,
    sampled: bool = False,
) -> TachScatter | None:
    """Look at the tach's own scatter; None where it is small, or is that of the volts or of the engine.

    Args:
        speed: rpm.
        volts: V, times brought to those of the speed.
        lag_known: whether they surely are; if not, they are shifted to where the least is left.
        together: they are so to within about a second; if not, only what the speed moves more than the volts counts.
        marks_per_revolution: that the tach counts.
        sampled: it reads a moment, and no mean since its last reading.
    """
    if not speed.middle or not volts.middle:
        return None  # of nothing there are no shares
    pieces = _pieces(speed, volts)
    left = _left(pieces, 0.0, sampled=sampled)
    if left is None:
        return None
    least = _floor(speed, volts)
    if left.sd <= least:
        return None
    for shift_s in () if lag_known else _SHIFTS_S:
        other = _left(pieces, shift_s, sampled=sampled)
        left = other if other is not None and other.sd < left.sd else left
        if left.sd <= least:
            return None
    skew = float(np.mean(left.off**3)) / left.sd**3
    if (not together or skew > 0.0) and left.speed_more < 0.5 * left.sd**2:
        return None  # the volts may have done it
    count = len(left.off)
    sure = abs(skew) / float(np.sqrt(6.0 * correlation_time(left.off) / count))
    window_s = max(speed.period_s, volts.period_s)
    marks = max(speed.middle / 60.0 * window_s * marks_per_revolution, 1.0)
    found = _judged(left.sd, skew, sure, marks * (1.0 + 2.0 * float(np.sqrt(2.0 / count))))
    if found.kind != "one_sided" and left.sd <= _unseen(speed, volts):
        return None
    some = volts.value[:_MOST_READINGS]
    moves = float(np.std(some)) >= _ENGINE_TOO * left.sd * abs(volts.middle)
    return replace(found, or_engine=moves and window_s > _SLOW_S and not lag_known)


@dataclass(frozen=True)
class _Left:
    """What is left of the speed beside the volts."""

    off: Floats
    """As shares, clipped, less their mean; shape (n,)."""
    sd: float
    speed_more: float
    """Variance of the speed less that of the volts, as shares of their means."""


def _left(pieces: list[tuple[Track, Track]], shift_s: float, *, sampled: bool) -> _Left | None:
    """None where too few readings have the other stream beside them."""
    pairs = [
        _pairs(speed, Track(volts.time_s - shift_s, volts.value, volts.limits), sampled=sampled)
        for speed, volts in pieces
    ]
    n, v = (np.concatenate([p[i] for p in pairs]) if pairs else np.empty(0) for i in (0, 1))
    if len(n) < _FEW:
        return None
    calm = _calm(v)
    n, v = n[calm], v[calm]
    off = n / v
    off = off / np.median(off) - 1.0
    reach = max(_CLIP * robust_sd(off), _SINGLE)
    inner = np.abs(off) <= reach
    off = np.clip(off, -reach, reach)
    off = off - np.mean(off)
    return _Left(off, float(np.std(off)), _variance(n[inner]) - _variance(v[inner]))


def _calm(v: Floats) -> NDArray[np.bool_]:
    """Readings beside which the engine does not change much; all where too few are so."""
    around = np.abs(np.concatenate((v[1:], v[-1:])) - np.concatenate((v[:1], v[:-1])))
    calm = around <= _QUICK * v
    return calm if int(calm.sum()) >= max(_FEW, len(v) // 4) else np.ones(len(v), dtype=np.bool_)


def _judged(sd: float, skew: float, sure: float, marks: float) -> TachScatter:
    """``marks`` in a window, enlarged by what so few readings leave open of their scatter."""
    low = skew < 0.0
    if sd > WILD:
        return TachScatter("wild", sd, low, max(sd, sd**2 * marks))
    if sure >= _SURE and abs(skew) >= _SKEW:
        at_least = sd / abs(skew) if sure >= _BEYOND_CHANCE else 0.0
        return TachScatter("one_sided", sd, low, max(2.0 * sd / abs(skew), sd), at_least)
    return TachScatter("even", sd, low, max(sd**2 * marks, sd * min(max(sure - 1.0, 0.0), 1.0)))


def _floor(speed: Track, volts: Track) -> float:
    """Scatter that the digits make, or that the tach's limits have in them already."""
    digits = speed.limits.digit / abs(speed.middle) + volts.limits.digit / abs(volts.middle)
    limit = (
        float(speed.limits.limit(np.array([speed.middle]))[0]) / abs(speed.middle)
        if speed.limits.known
        else 0.0
    )
    return max(_LEAST, digits, limit)


def _unseen(speed: Track, volts: Track) -> float:
    """Even scatter that may be what the engine does between two readings, as a share."""
    if volts.period_s <= speed.period_s:
        return _BETWEEN * _bends(volts)
    of_volts, of_speed = _IN_HOLES
    return max(of_volts * _bends(volts), of_speed * _bends(speed))


def _bends(track: Track) -> float:
    bends = np.abs(np.diff(track.value[:_MOST_READINGS], 2))
    return 1.4826 * float(np.median(bends)) / abs(track.middle)


def _variance(x: Floats) -> float:
    return float(np.var(x / np.mean(x))) if len(x) else 0.0


def _pieces(speed: Track, volts: Track) -> list[tuple[Track, Track]]:
    """Both where they overlap; of very long ones some pieces that stand for all."""
    if min(len(speed.value), len(volts.value)) < _FEW:
        return []
    begin = max(float(speed.time_s[0]), float(volts.time_s[0]))
    end = min(float(speed.time_s[-1]), float(volts.time_s[-1]))
    both = speed.between(begin, end), volts.between(begin, end)
    if min(len(track.value) for track in both) < _FEW or min(track.period_s for track in both) <= 0.0:
        return []
    if max(len(track.value) for track in both) <= _MOST_READINGS:
        return [both]
    length_s = min((end - begin) / _PIECES, _IN_PIECE * max(track.period_s for track in both))
    starts = np.linspace(begin, end - length_s, _PIECES).tolist()
    some = [tuple(track.between(a, a + length_s) for track in both) for a in starts]
    return [(s, v) for s, v in some if min(len(s.value), len(v.value)) > 1]


def _pairs(speed: Track, volts: Track, *, sampled: bool) -> tuple[Floats, Floats]:
    """Speeds and volts over the same windows: those of the slower stream, or of a tach's moments that of the meter."""
    if volts.period_s > speed.period_s:
        means, chosen = _means(speed, volts, volts.period_s)
        n, v = means, volts.value[chosen]
    else:
        means, chosen = _means(volts, speed, volts.period_s if sampled else speed.period_s)
        n, v = speed.value[chosen], means
    sound = (n > 0.0) & (v > 0.0)
    return n[sound], v[sound]


def _means(track: Track, at: Track, window_s: float) -> tuple[Floats, NDArray[np.bool_]]:
    """Means of the one over windows around the readings of the other, and which of these it covers without a hole."""
    t, period_s = track.time_s, track.period_s
    edges = np.concatenate(([t[0] - 0.5 * period_s], 0.5 * (t[1:] + t[:-1]), [t[-1] + 0.5 * period_s]))
    sums = np.concatenate(([0.0], np.cumsum(track.value * np.diff(edges))))
    begin, end = at.time_s - 0.5 * window_s, at.time_s + 0.5 * window_s
    first = np.clip(np.searchsorted(t, begin, side="right") - 1, 0, len(t) - 1)
    last = np.clip(np.searchsorted(t, end), 0, len(t) - 1)
    whole = (begin >= edges[0]) & (end <= edges[-1]) & (t[last] - t[first] <= window_s + 2.5 * period_s)
    chosen = np.flatnonzero(whole)
    area = np.interp(end[chosen], edges, sums) - np.interp(begin[chosen], edges, sums)
    return np.asarray(area / window_s), whole
