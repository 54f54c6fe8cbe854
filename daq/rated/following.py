"""Do the volts follow the speed at all? Asked at any span, and without needing the lag.

Unloaded volts are in proportion to speed, so their movement as a share of
their mean is that of the speed, whatever the lag between the two. The movement
of each is bounded from both sides: from above by its standard deviation, which
has all scatter in it, and from below by the part that neighbouring readings
share, half of E(x - x')² less: an engine hunts smoothly and slowly, and what a
tach or a meter scatters by itself is new at each reading. A governor that hunts
about as fast as the tach reads comes back after some readings instead, which no
scatter does: of the speed the part that readings up to ``_BACK`` apart share,
alike or against each other, is a movement as well.

================ =======================================================================
seen              rule
================ =======================================================================
volts stand still smooth movement of the speed, averaged over the meter's window, is real
                  and the volts' whole spread under ``LEAST`` of it
volts move alone  smooth movement of the volts, averaged over the tach's, is real and over
                  ``MOST`` times the speed's whole spread
tach scatters     the speed jumps between two levels, or by ``_WILD`` in any way, from one
                  reading to the next, while the volts stand still
================ =======================================================================

Movement is real where it is beyond chance (four standard errors of a
correlation of unrelated readings), the instrument's steps, its stated limits
and a floor. A tach that scatters evenly about the true speed of a steady
engine fulfils none of this, and its mean holds. The floors are judgements,
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from daq.align.parts import LONG, parts, spread
from daq.rated.instrument_limits import InstrumentLimits

__all__ = ["LEAST", "MOST", "Spells", "Track", "Unfollowed", "find_unfollowed"]

Floats = NDArray[np.float64]

LEAST, MOST = 0.6, 1.6
_MOST_SLOW = 2.5
"""Instead of ``MOST`` for a tach slower than ``_SLOW_S``, which may flatten the hunting."""
_SLOW_S = 1.2
_FEW = 20
_NEAR_S = 2.0
_EDGE_S = 2.0
"""More than any two delays differ."""
_FLOOR_SPEED = 0.0035
_FLOOR_VOLTS = 0.008
"""Magnets that warm up lower the volts by about 1 % in a run."""
_FLOOR_HELD = 0.004
_TWO_LEVELS = 0.003
_WILD = 0.03
_BIMODAL = 5.0 / 9.0
"""(skewness² + 1) / kurtosis of an even spread: 1/3 for a normal one, 1 for two levels."""
_BETWEEN, _FEW_BETWEEN = 0.25, 0.1
"""Two levels have no more than this share of the readings within a quarter of the way either side of the middle."""
_CHANCE = 4.0
_BACK = 6
_AGAINST = 0.75
"""Share that neighbours have against each other from which on it is a movement: a jitter of marks makes half."""
_HELD_SHARE = 0.9

Kind = Literal["volts_held", "volts_still", "speed_held", "volts_alone", "tach_scatters"]


@dataclass(frozen=True)
class Track:
    """Readings of one stream that count; arrays of shape (n,), no NaN."""

    time_s: Floats
    value: Floats
    limits: InstrumentLimits

    @cached_property
    def period_s(self) -> float:
        """Usual time from one reading to the next."""
        return float(np.median(_some_steps(self.time_s)))

    @cached_property
    def middle(self) -> float:
        """Median of the values, of very many of some that stand for all."""
        return float(np.median(self.value[spread(len(self.value))]))

    def between(self, begin_s: float, end_s: float) -> Track:
        """The readings between two moments."""
        first, last = np.searchsorted(self.time_s, [begin_s, end_s]).tolist()
        return Track(self.time_s[first:last], self.value[first:last], self.limits)

    def averaged(self, window_s: float) -> Track:
        """The readings as an instrument with this window would have shown them."""
        width = round(window_s / self.period_s) if self.period_s > 0.0 else 1
        if width < 2 or width > len(self.value) // 4:
            return self
        mean = np.convolve(self.value, np.full(width, 1.0 / width), "valid")
        return Track(self.time_s[: len(mean)], mean, self.limits)


@dataclass(frozen=True)
class Spells:
    """In how many goes, and how long."""

    count: int
    total_s: float
    longest_s: float
    first_s: float
    """When the first began."""


@dataclass(frozen=True)
class Unfollowed:
    """What the volts and the speed did instead of following each other."""

    kind: Kind
    speed_rpm: tuple[float, float]
    """From where to where it went, a few readings at either end aside."""
    voltage_v: tuple[float, float]
    low: Spells | None = None
    """When the volts stood at the lower of two levels, where they went to and fro between two."""


@dataclass(frozen=True)
class _Movement:
    """As shares of the mean."""

    whole: float
    smooth: float
    correlation: float
    count: int

    def real(self, least: float) -> bool:
        """Beyond chance and a least size."""
        return self.smooth > least and self.correlation > max(_CHANCE / np.sqrt(self.count), 0.2)


def find_unfollowed(
    speed: Track, volts: Track, *, together: bool, meter_window_s: float
) -> Unfollowed | None:
    """Look whether volts and speed move alike; None where they do, or too little moves to tell.

    Args:
        speed: rpm.
        volts: V, times brought to those of the speed as far as the lag is known.
        together: whether the times belong together to within some seconds; if not, the least of the one
            in any half is held against the most of the other.
        meter_window_s: over which one volts reading averages.
    """
    if together and len(speed.value) and len(volts.value):
        begin = max(speed.time_s[0], volts.time_s[0])
        end = min(speed.time_s[-1], volts.time_s[-1])
        speed, volts = speed.between(begin, end), volts.between(begin, end)
        speed, volts = _beside(speed, volts), _beside(volts, speed)
    if min(len(speed.value), len(volts.value)) < _FEW or min(speed.period_s, volts.period_s) <= 0.0:
        return None
    if abs(volts.middle) < max(20.0 * volts.limits.digit, 0.5):
        return None  # dead volts follow nothing, and are told by themselves
    kind = _kind(speed, volts, together, meter_window_s)
    if kind is not None and together:
        # What one stream does in the first and last moments the other may do before or after: the lag is not needed.
        begin, end = float(speed.time_s[0]) + _EDGE_S, float(speed.time_s[-1]) - _EDGE_S
        inner = speed.between(begin, end), volts.between(begin, end)
        if min(len(track.value) for track in inner) >= _FEW and min(track.period_s for track in inner) > 0.0:
            kind = kind if _kind(*inner, together, meter_window_s) == kind else None
    if kind is None:
        return None
    low = _low_spells(volts) if kind == "volts_alone" else None
    return Unfollowed(kind, _reach(speed.value), _reach(volts.value), low)


def _kind(speed: Track, volts: Track, together: bool, meter_window_s: float) -> Kind | None:
    halves = None if together else 0.5 * min(np.ptp(speed.time_s), np.ptp(volts.time_s))
    n, v = _movements(speed, halves), _movements(volts, halves)
    slow = _movements(speed.averaged(meter_window_s), halves, hunts=True)
    still = max(m.whole for m in v)
    hidden = 0.5 * _step(volts)  # that much can move without the digits showing it
    floor = max(_FLOOR_SPEED, 1.5 * _apart(speed), _limit(speed), (still + hidden) / LEAST)
    if all(m.real(floor) for m in slow):
        return "volts_held" if _held(volts) else "volts_still"
    most = MOST if speed.period_s <= _SLOW_S else _MOST_SLOW
    alone = _movements(volts.averaged(speed.period_s), halves)
    held = _held(speed)
    floor = max(_FLOOR_HELD if held else _FLOOR_VOLTS, 1.5 * _step(volts), _limit(volts))
    floor = max(floor, most * speed.limits.digit / speed.middle)
    if all(m.real(floor) for m in alone) and min(m.smooth for m in alone) > most * max(m.whole for m in n):
        return "speed_held" if held else "volts_alone"
    spread = min(m.whole for m in n)
    if still < 0.3 * spread and _jumps(speed, spread):
        return "tach_scatters"
    return None


def _beside(track: Track, other: Track) -> Track:
    """Readings with one of the other stream near by, so that neither moves in a hole of the other."""
    if min(len(track.time_s), len(other.time_s)) < 2:
        return track
    reach_s = max(_NEAR_S, 2.0 * other.period_s)
    if _no_hole(track.time_s, other.time_s, reach_s):
        return track
    after = np.clip(np.searchsorted(other.time_s, track.time_s), 1, len(other.time_s) - 1)
    to_next, since = other.time_s[after] - track.time_s, track.time_s - other.time_s[after - 1]
    near = np.minimum(np.abs(to_next), np.abs(since)) <= reach_s
    return track if bool(near.all()) else Track(track.time_s[near], track.value[near], track.limits)


def _no_hole(time_s: Floats, other_s: Floats, reach_s: float) -> bool:
    """The other stream begins and ends with this one, and nowhere pauses for longer than twice the reach."""
    if time_s[0] < other_s[0] - reach_s or time_s[-1] > other_s[-1] + reach_s:
        return False
    return all(
        bool(np.all(other_s[part][1:] - other_s[part][:-1] <= 2.0 * reach_s))
        and bool(other_s[part.start] - other_s[max(part.start - 1, 0)] <= 2.0 * reach_s)
        for part in parts(len(other_s))
    )


def _some_steps(values: Floats) -> Floats:
    """From one reading to the next; of very many some that stand for all."""
    some = spread(len(values) - 1)
    return np.diff(values) if isinstance(some, slice) else values[some + 1] - values[some]


def _movements(track: Track, length_s: float | None, *, hunts: bool = False) -> list[_Movement]:
    """Of the whole, or of all pieces of a length, half overlapping; that of hunting with it, or not."""
    if length_s is None:
        return [_movement(track.value, hunts=hunts)]
    first, last = float(track.time_s[0]), float(track.time_s[-1])
    starts = np.arange(first, last - length_s + 1e-6, 0.5 * length_s)
    pieces = [track.between(a, a + length_s).value for a in starts.tolist()]
    pieces = [piece for piece in pieces if len(piece) >= _FEW // 2] or [track.value]
    return [_movement(piece, hunts=hunts) for piece in pieces]


def _movement(value: Floats, *, hunts: bool = False) -> _Movement:
    mean = float(np.mean(value))
    whole = float(np.var(value)) if len(value) <= LONG else _mean_square(value, lambda x: x - mean)
    mean = abs(mean)
    if mean == 0.0 or whole == 0.0:
        return _Movement(0.0, 0.0, 0.0, len(value))
    smooth = whole - 0.5 * _mean_square(value, np.diff)
    if hunts and smooth < 0.5 * whole:
        smooth = max(smooth, _comes_back(value) * whole)
    return _Movement(
        float(np.sqrt(whole)) / mean, float(np.sqrt(max(smooth, 0.0))) / mean, smooth / whole, len(value)
    )


def _comes_back(value: Floats) -> float:
    """Share of the variance that readings some places apart have in common, alike or against each other."""
    x = value[:LONG] - float(np.mean(value[:LONG]))
    whole = float(x @ x)
    if whole == 0.0 or len(x) <= 2 * _BACK:
        return 0.0
    shares = [float(x[k:] @ x[:-k]) / whole for k in range(1, _BACK + 1)]
    against = -shares[0] if -shares[0] > _AGAINST else 0.0
    # So much more does chance scatter those further apart where neighbours are related (Bartlett; from memory).
    wider = float(np.sqrt(1.0 + 2.0 * shares[0] ** 2))
    return max(against, *(abs(share) / wider for share in shares[1:]))


def _mean_square(value: Floats, of: Callable[[Floats], Floats]) -> float:
    """Mean square of what is worked out of neighbouring readings; part by part where they are very many."""
    if len(value) <= LONG:
        return float(np.mean(np.square(of(value))))
    total, count = 0.0, 0
    for part in parts(len(value)):
        x = of(value[part])
        total, count = total + float(np.square(x, out=x).sum()), count + len(x)
    return total / count


def _jumps(speed: Track, spread: float) -> bool:
    """The tach scatters by itself in a way whose mean can't be relied on."""
    x = speed.value - float(np.mean(speed.value))
    variance = float(np.mean(x * x))
    step = max(_step(speed), _limit(speed))
    if variance == 0.0 or spread <= max(_TWO_LEVELS, 1.5 * step):
        return False
    skew, kurtosis = float(np.mean(x**3)) / variance**1.5, float(np.mean(x**4)) / variance**2
    return spread > _WILD or (skew**2 + 1.0) / kurtosis > _BIMODAL + 0.15


def _step(track: Track) -> float:
    """The least step seen, or the last digit, as a share of the middle."""
    steps = np.abs(np.diff(track.value[:5000]))
    steps = steps[steps > 0.5 * track.limits.digit]
    least = float(steps.min()) if len(steps) else 0.0
    return max(least, track.limits.digit) / abs(track.middle)


def _apart(track: Track) -> float:
    """The same where the value goes to and fro: what the nearest two of all values lie apart."""
    gaps = np.diff(np.unique(track.value[:5000]))
    gaps = gaps[gaps > 0.5 * track.limits.digit]
    least = float(gaps.min()) if len(gaps) else 0.0
    return max(least, track.limits.digit) / abs(track.middle)


def _limit(track: Track) -> float:
    middle = np.array([abs(track.middle)])
    return float(track.limits.limit(middle)[0] / middle[0]) if track.limits.known else 0.0


def _held(track: Track) -> bool:
    return float(np.mean(track.value == track.middle)) >= _HELD_SHARE


def _low_spells(volts: Track) -> Spells | None:
    """Spells on the lower of two levels; None where the volts go through all that lies between."""
    low, high = _reach(volts.value)
    share = (volts.value - low) / (high - low)
    if float(np.mean(np.abs(share - 0.5) < _BETWEEN)) > _FEW_BETWEEN:
        return None
    edges = np.flatnonzero(np.diff((share < 0.5).astype(np.int8), prepend=0, append=0))
    begin, last = volts.time_s[edges[::2]], volts.time_s[edges[1::2] - 1]
    length_s = last - begin + volts.period_s
    return Spells(len(begin), float(length_s.sum()), float(length_s.max()), float(begin[0]))


def _reach(value: Floats) -> tuple[float, float]:
    low, high = np.quantile(value[spread(len(value))], (0.02, 0.98)).tolist()
    return low, high
