"""Rows that depart from the output that is stated: a spike or two, or a joint that opens and volts that fall.

The value is that of the most rows, and a robust mean gives the others no weight.
A few alone are spikes. Many of them, or several in a row over seconds, are no
scatter: then the machine gave two outputs, and which of them it gives next is
not known. Volts that stood away before the first good reading are leads not
yet put on. The limits are judgements (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from daq.align.scatter import robust_sd
from daq.rated.two_levels import second_level

__all__ = [
    "Departing",
    "DepartingKind",
    "UsualAtSpeed",
    "allowed_share",
    "beyond_a_gap",
    "departing_scale",
    "find_departing",
    "least_share",
    "moving_share",
]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
DepartingKind = Literal["away", "later", "drift", "levels", "alone"]

_LEAST_SHARE = 0.02
"""Share of the output within which a row never departs."""
_SD = 6.0
_MOVING_S = 0.2
"""Lateness that a row on a moving speed is granted."""
_FEW = 0.05
"""Share of rows that may depart as spikes do."""
_BLOCK_S = 2.0
_BLOCK_ROWS = 3
_AWAY = 0.5
"""Share of the upper level under which volts have fallen away."""
_REAL_LEVEL = 0.10
"""Share of rows that makes a level of its own above the others."""
_HALF = 0.3
"""Share of rows that the smaller of two groups has at least, where they are about equally many."""
_WIDE = 0.04
"""Share that the speeds must span before the output is looked at by speed."""
_BANDS = 8
_LEAST_IN_BAND = 5
_LEAST_ROWS = 8
_LEAST_V = 0.5


@dataclass(frozen=True)
class Departing:
    """How the rows that depart lie in time, and how far off."""

    kind: DepartingKind
    rows: int
    """Rows looked at."""
    count: int
    """Of them those on the other level, or away."""
    spells: int
    """In how many goes."""
    longest_s: float
    total_s: float
    high_v: float
    """The output at rated speed on the upper level; for a drift the higher of first and last fifth."""
    low_v: float
    limit_v: float
    """How far the further level lies from the stated value."""
    from_s: float
    """When the first departs."""
    falls: bool
    """Later rows lie lower."""


@dataclass(frozen=True)
class UsualAtSpeed:
    """What the rows at about the same speed say, as medians over bands of speed.

    So that a bend of the volts over speed is not taken for one over time.
    """

    speed_rpm: Floats
    """Middle of each band that holds enough rows."""
    rated_v: Floats

    @classmethod
    def of(cls, speed_rpm: Floats, rated_v: Floats, value: float) -> UsualAtSpeed:
        """From rows.

        Args:
            speed_rpm: shape (n,), n >= 1.
            rated_v: volts scaled to rated speed, shape (n,).
            value: the stated output, which is usual at every speed where the speed hardly moves.
        """
        low, high = float(np.min(speed_rpm)), float(np.max(speed_rpm))
        flat = cls(np.array([low]), np.array([value]))
        if high - low < _WIDE * high:
            return flat
        band = np.minimum(((speed_rpm - low) / (high - low) * _BANDS).astype(np.intp), _BANDS - 1)
        filled = [b for b in range(_BANDS) if int(np.sum(band == b)) >= _LEAST_IN_BAND]
        if not filled:
            return flat
        at = [float(np.median(speed_rpm[band == b])) for b in filled]
        return cls(np.array(at), np.array([float(np.median(rated_v[band == b])) for b in filled]))

    def at(self, speed_rpm: Floats) -> Floats:
        """At other speeds, shape of ``speed_rpm``."""
        return np.asarray(np.interp(speed_rpm, self.speed_rpm, self.rated_v))


def allowed_share(off: Floats, slope_share_s: Floats, digit_share: float) -> Floats:
    """How far each row may lie off, as a share of the output, shape (n,).

    The scatter is the smaller of that around the middle and that from row to
    row: a second level widens the one, a joint that chatters the other.

    Args:
        off: distance of each row from what is usual, as a share of the output, shape (n,).
        slope_share_s: rate of change of speed over the speed, shape (n,).
        digit_share: the instruments' digits together, as a share.
    """
    return np.asarray(least_share(off, np.diff(off), digit_share) + moving_share(slope_share_s))


def least_share(off: Floats, steps: Floats, digit_share: float) -> float:
    """How far a row at a steady speed may lie off; arguments as above, and ``off`` of each row less that before."""
    sd = min(robust_sd(off), robust_sd(steps) / 2.0**0.5)
    return float(max(_LEAST_SHARE, _SD * sd, 3.0 * digit_share))


def moving_share(slope_share_s: Floats) -> Floats:
    """How much further where the speed moves."""
    return np.asarray(_MOVING_S * np.abs(slope_share_s))


def departing_scale(rated_v: Floats, value: float) -> float:
    """Volts in which departures are counted; 0 for volts too low to say anything of them."""
    scale = max(abs(value), float(np.quantile(np.abs(rated_v), 0.9)))
    return scale if scale >= _LEAST_V else 0.0


def find_departing(
    time_s: Floats,
    rated_v: Floats,
    usual_v: Floats,
    slope_share_s: Floats,
    value: float,
    digit_share: float,
    speed_rpm: Floats | None = None,
) -> Departing | None:
    """Find rows that depart, and how; None where they are few and alone.

    Args:
        time_s: of rows with volts and speed, those called spikes or drop-outs among them, shape (n,), rising.
        rated_v: volts scaled to rated speed, shape (n,).
        usual_v: from :class:`UsualAtSpeed`, shape (n,).
        slope_share_s: rate of change of speed over the speed, shape (n,).
        value: the stated output.
        digit_share: the instruments' digits together, as a share of the output.
        speed_rpm: shape (n,), for levels that the speed's movement hides; None where they are not looked for.
    """
    if len(time_s) < _LEAST_ROWS:
        return None
    scale = departing_scale(rated_v, value)
    if scale == 0.0:
        return None
    off = (rated_v - usual_v) / scale
    departs = np.abs(off) > allowed_share(off, slope_share_s, digit_share)
    if not bool(departs.any()):
        departs = beyond_a_gap(off, digit_share)
    if speed_rpm is not None:
        flat = (rated_v - value) / scale
        hidden = second_level(flat, slope_share_s, speed_rpm, digit_share)
        if int(hidden.sum()) > int(departs.sum()):
            off, departs = flat, hidden
    first = int(np.argmax(rated_v >= _AWAY * scale))  # before that the leads were not on
    return _described(time_s[first:], rated_v[first:], off[first:], departs[first:], value)


def _described(t: Floats, rated: Floats, off: Floats, departs: Flags, value: float) -> Departing | None:
    if not _matters(t, departs):
        return None
    high_v, low_v = _levels(rated, off, departs, value)
    away = rated < _AWAY * high_v
    if low_v < _AWAY * high_v and _matters(t, away):
        return _made("away", t, away, high_v, float(np.median(rated[away])), value)
    moves = float(np.corrcoef(_ranks(t), _ranks(rated))[0, 1])
    kind: DepartingKind = "levels"
    side = departs if int(departs.sum()) <= len(t) // 2 else departs & (off < 0.0)
    from_on = int(np.argmax(side))
    if float(np.mean(side[from_on:])) > 0.8 and float(np.mean(side[:from_on])) == 0.0 and from_on > 0:
        kind = "later"
    if abs(moves) > 0.8 and len(np.unique(rated)) > 5 and _steady_move(rated):
        fifth = max(len(rated) // 5, 1)
        ends = float(np.median(rated[:fifth])), float(np.median(rated[-fifth:]))
        return _made("drift", t, side, max(ends), min(ends), value, falls=ends[1] < ends[0])
    if not bool(np.any(_blocks(t, side))) and kind != "later":
        kind = "alone"
    return _made(kind, t, side, high_v, low_v, value, falls=float(np.median(off[side])) < 0.0)


def _made(
    kind: DepartingKind, t: Floats, side: Flags, high: float, low: float, value: float, *, falls: bool = True
) -> Departing:
    lengths = _spells(t, side)
    return Departing(
        kind,
        rows=len(t),
        count=int(side.sum()),
        spells=len(lengths),
        longest_s=float(np.max(lengths, initial=0.0)),
        total_s=float(np.sum(lengths)),
        high_v=high,
        low_v=low,
        limit_v=max(abs(high - value), abs(low - value)),
        from_s=float(t[int(np.argmax(side))]),
        falls=falls,
    )


def _levels(rated: Floats, off: Floats, departs: Flags, value: float) -> tuple[float, float]:
    """Upper and lower level; a few spikes upwards make no level."""
    up, down, core = departs & (off > 0.0), departs & (off < 0.0), ~departs
    middle = float(np.median(rated[core])) if bool(core.any()) else value
    high, low = middle, middle
    if float(np.mean(up)) >= _REAL_LEVEL or not bool(down.any()):
        high = float(np.median(rated[up])) if bool(up.any()) else middle
    if bool(down.any()):
        low = float(np.median(rated[down]))
    return max(high, low), min(high, low)


def _matters(t: Floats, flags: Flags) -> bool:
    count = int(flags.sum())
    return (count > _BLOCK_ROWS and count > _FEW * len(t)) or bool(np.any(_blocks(t, flags)))


def _blocks(t: Floats, flags: Flags) -> Flags:
    """Which of the spells last for seconds and rows enough."""
    edges = _edges(flags)
    return (_spells(t, flags) >= _BLOCK_S) & (edges[1::2] - edges[::2] >= _BLOCK_ROWS)


def _spells(t: Floats, flags: Flags) -> Floats:
    """How long each spell of rows in a row lasts, s."""
    edges = _edges(flags)
    step = float(np.median(np.diff(t))) if len(t) > 1 else 0.0
    return np.asarray(t[edges[1::2] - 1] - t[edges[::2]] + step)


def _edges(flags: Flags) -> NDArray[np.intp]:
    return np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))


def beyond_a_gap(off: Floats, digit_share: float) -> Flags:
    """The smaller of two groups that a wide gap parts, though they be about equally many."""
    at = np.sort(off)
    least = max(int(_HALF * len(at)), 2)
    inner = np.diff(at)[least - 1 : len(at) - least]
    if len(inner) == 0:
        return np.zeros(len(off), dtype=np.bool_)
    cut = int(np.argmax(inner)) + least
    gap = float(at[cut] - at[cut - 1])
    within = max(robust_sd(at[:cut]), robust_sd(at[cut:]))
    if gap < max(_LEAST_SHARE, _SD * within, 3.0 * digit_share):
        return np.zeros(len(off), dtype=np.bool_)
    return np.asarray(off >= at[cut] if 2 * cut > len(at) else off <= at[cut - 1])


def _steady_move(rated: Floats) -> bool:
    """It goes on through the run, and is no single step: no third of it carries more than three quarters."""
    thirds = [float(np.median(part)) for part in np.array_split(rated, 6)]
    steps = np.abs(np.diff(thirds))
    return float(np.max(steps)) < 0.6 * float(np.sum(steps))


def _ranks(x: Floats) -> Floats:
    return np.asarray(np.argsort(np.argsort(x)), dtype=np.float64)
