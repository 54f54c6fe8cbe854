"""Signs of a wrong setting, for instruments that do not tell their function: what to turn, press or aim.

Pure: arrays of a window of readings in, sentences out. A sign is a reason to
look, never a verdict; nothing is removed because of one.

=================== ==================================================================
sign                 rule (limits are common practice, no source)
=================== ==================================================================
flagged              a tenth of the readings, and three, carry the instrument's own flag
frozen               the same digits for 3 s and 6 readings while the other stream moved
lamps                3 in 10 speed readings within 0.2 % of 3000, 3600, 6000 or 7200 rpm, and a quarter
                     of that at the most as near beside them, where an engine that passes by is seen as often,
                     while the volts moved by more than 3 % in those moments, and not as noise does
not following        speed of its upper quarter at least 15 % above that of its lower
                     quarter, and the volts show less than a fifth of that
twice, half          2 readings, and 1 in 33, within 6 % of twice or half of what the
                     volts say
=================== ==================================================================

Lamps on alternating current flicker at twice its frequency: 100 or 120 times a
second, 6000 or 7200 a minute; at 3000 or 3600 when one half-wave is brighter.
All readings from first to last at twice the true speed leave no sign here: the
volts stay in proportion. Only the mark itself, or the frequency, tells that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.parts import parts, spread
from daq.align.ranges import equal_rows, range_between
from daq.align.setting_flags import flag_signs
from daq.model.reading import Quality

__all__ = ["CountedLamp", "counted_lamp", "setting_signs"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_READINGS = 8
FROZEN_S = 3.0
FROZEN_READINGS = 6
MOVED_SHARE = 0.04
REACH_S = 0.75
"""A lag at either end of a frozen stretch is no movement meanwhile."""
MAINS_RPM = (3000.0, 3600.0, 6000.0, 7200.0)
MAINS_WITHIN = 0.002
BESIDE_WITHIN, MOST_BESIDE = 0.006, 0.25
LAMP_MOVED_SHARE = 0.03
LAMP_SHARE, LAMP_SHARE_OF_SOME = 0.3, 0.2
"""Of all readings, and of those that stand for very many before all are looked at."""
_NEAR_ZERO_V = 0.3
_BATTERY_V = (11.0, 15.5)


@dataclass(frozen=True)
class _Stream:
    """Good readings of one stream."""

    time_s: Floats
    value: Floats

    def inside(self, begin_s: float, end_s: float) -> Floats:
        """Values between two moments."""
        first = np.searchsorted(self.time_s, begin_s)
        last = np.searchsorted(self.time_s, end_s, side="right")
        return self.value[first:last]

    def at(self, time_s: Floats) -> Floats:
        """Values interpolated to other moments; NaN beyond the first and last."""
        return np.interp(time_s, self.time_s, self.value, left=np.nan, right=np.nan)

    @property
    def digit(self) -> float:
        """The least step seen; 0 where none was."""
        least = np.inf
        for part in parts(len(self.value)):
            steps = np.abs(np.diff(self.value[part.start : part.stop + 1]))
            least = min(least, float(np.min(steps, where=steps > 0.0, initial=np.inf)))
        return least if least < np.inf else 0.0


def setting_signs(
    speed_t: Floats,
    speed: Floats,
    volts_t: Floats,
    volts: Floats,
    *,
    speed_counts: Mapping[Quality, int] | None = None,
    volts_counts: Mapping[Quality, int] | None = None,
    false_speed: Flags | None = None,
) -> list[str]:
    """Look for wrong settings in a window of readings, best some 10 to 60 s of it.

    Args:
        speed_t: times of the speed readings, seconds, rising, shape (n,).
        speed: rpm, NaN where a reading had no value, shape (n,).
        volts_t: times of the AC volts readings, seconds, rising, shape (m,).
        volts: volts, NaN where a reading had no value, shape (m,).
        speed_counts: how many speed readings of the window had which quality.
        volts_counts: the same of the volts.
        false_speed: speed readings known to be false, shape (n,): they are no movement of the engine.

    Returns:
        Sentences, each with what was seen and what to do; empty where nothing looks wrong.
    """
    shown = _good(speed_t, speed)
    blamed = None
    if false_speed is not None:
        blamed = speed_t[np.flatnonzero(false_speed & np.isfinite(speed))]
        speed = np.where(false_speed, np.nan, speed) if len(blamed) else speed
    signs = flag_signs("volts", volts_counts or {}) + flag_signs("speed", speed_counts or {})
    s, v = _good(speed_t, speed) if blamed is not None and len(blamed) else shown, _good(volts_t, volts)
    if min(len(s.value), len(v.value)) < LEAST_READINGS:
        return signs
    lamps = _lamps(shown, v)
    frozen = _frozen_volts(v, s) or ("" if lamps else _frozen_speed(s, v))
    signs += [sign for sign in (frozen, lamps) if sign]
    following = "" if frozen or lamps else _not_following(s, v)
    if following:
        return [*signs, following]
    return signs if frozen or lamps else signs + _twice_and_half(shown, v, blamed)


def _good(time_s: Floats, value: Floats) -> _Stream:
    finite = np.isfinite(value) & np.isfinite(time_s)
    return _Stream(time_s, value) if bool(finite.all()) else _Stream(time_s[finite], value[finite])


def _longest_frozen(stream: _Stream, other: _Stream) -> tuple[float, float, Floats] | None:
    """Value, length in s and the other stream meanwhile, of the longest row of equal digits over which it moved."""
    starts, ends = equal_rows(stream.value, FROZEN_READINGS)
    ends = ends - 1
    length_s = stream.time_s[ends] - stream.time_s[starts]
    rows = np.flatnonzero(length_s >= FROZEN_S)
    if len(rows) == 0:
        return None
    low, high = range_between(
        other.time_s, other.value, stream.time_s[starts[rows]] + REACH_S, stream.time_s[ends[rows]] - REACH_S
    )
    digit, other_digit = stream.digit, other.digit
    # Of the least that the middle can be; what does not move by this does not by the rule below.
    middle = np.where(low * high > 0.0, np.minimum(np.abs(low), np.abs(high)), 0.0)
    rows = rows[(high - low > 2.5 * other_digit) & (high - low > MOVED_SHARE * middle)]
    rows = rows[np.argsort(-length_s[rows], kind="stable")]
    for a, b in zip(starts[rows].tolist(), ends[rows].tolist(), strict=True):
        begin_s, end_s = float(stream.time_s[a]), float(stream.time_s[b])
        meanwhile = other.inside(begin_s + REACH_S, end_s - REACH_S)
        least = max(MOVED_SHARE, 3.0 * digit / max(abs(stream.value[a]), 1e-9))
        if _moved(meanwhile, other_digit) > least:
            return float(stream.value[a]), end_s - begin_s, meanwhile
    return None


def _moved(values: Floats, digit: float) -> float:
    """How far values went, as a share of their middle; 0 for fewer than three, and for two digits."""
    if len(values) < 3:
        return 0.0
    low, middle, high = np.quantile(values, (0.05, 0.5, 0.95))
    return float((high - low) / abs(middle)) if middle and high - low > 2.5 * digit else 0.0


def _frozen_volts(volts: _Stream, speed: _Stream) -> str:
    found = _longest_frozen(volts, speed)
    if found is None or abs(found[0]) < _NEAR_ZERO_V:
        return ""
    value, length_s, meanwhile = found
    return (
        f"The volts stood at {value:g} V to the digit for {length_s:.0f} s while the speed went from "
        f"{meanwhile.min():.0f} to {meanwhile.max():.0f} rpm: press the meter's HOLD, MAX or MIN off."
    )


def _frozen_speed(speed: _Stream, volts: _Stream) -> str:
    found = _longest_frozen(speed, volts)
    if found is None:
        return ""
    value, length_s, meanwhile = found
    return (
        f"The speed stood at {value:g} rpm to the digit for {length_s:.0f} s while the volts went from "
        f"{meanwhile.min():.3g} to {meanwhile.max():.3g} V: the tachometer holds an old value. "
        "Aim it at the mark again, and keep its button pressed if it has one."
    )


@dataclass(frozen=True)
class CountedLamp:
    """A tach that stands at the speed of a lamp on the mains."""

    rpm: float
    within_rpm: float
    """How far the readings that stand there lie from it at the most."""
    count: int
    """Of so many readings."""
    total: int

    @property
    def words(self) -> str:
        """Where it stands."""
        at = f"{self.rpm:.0f} rpm"
        return f"at {at}" if self.within_rpm < 1.5 else f"within {self.within_rpm:.0f} rpm of {at}"


def counted_lamp(speed_t: Floats, speed: Floats, volts_t: Floats, volts: Floats) -> CountedLamp | None:
    """The speed at which a tach stands that counts a lamp on the mains, though the volts move; None for no such sign.

    Args:
        speed_t: times of the speed readings, seconds, rising, shape (n,).
        speed: rpm, NaN where a reading had no value, shape (n,).
        volts_t: times of the AC volts readings, seconds, rising, shape (m,).
        volts: volts, NaN where a reading had no value, shape (m,).
    """
    s, v = _good(speed_t, speed), _good(volts_t, volts)
    return _lamp(s, v) if min(len(s.value), len(v.value)) >= LEAST_READINGS else None


def _lamp(speed: _Stream, volts: _Stream) -> CountedLamp | None:
    some = spread(len(speed.value))
    few = speed.value if isinstance(some, slice) else speed.value[some]
    for mains_rpm in MAINS_RPM:
        near = np.count_nonzero(np.abs(few - mains_rpm) <= MAINS_WITHIN * mains_rpm)
        if near < LAMP_SHARE_OF_SOME * len(few):
            continue
        off_rpm = np.abs(speed.value - mains_rpm)
        locked = off_rpm <= MAINS_WITHIN * mains_rpm
        count = int(locked.sum())
        if count < max(FROZEN_READINGS, LAMP_SHARE * len(speed.value)):
            continue
        if int(np.sum(off_rpm <= BESIDE_WITHIN * mains_rpm)) - count > MOST_BESIDE * count:
            continue  # an engine that swings about this speed, and no lamp
        if float(np.ptp(speed.time_s[locked])) < FROZEN_S:
            continue
        meanwhile = volts.at(speed.time_s[locked])
        meanwhile = meanwhile[np.isfinite(meanwhile)]
        if _moved(meanwhile, volts.digit) > LAMP_MOVED_SHARE and _neighbours_share(meanwhile):
            return CountedLamp(mains_rpm, float(np.max(off_rpm[locked])), count, len(speed.value))
    return None


def _neighbours_share(values: Floats) -> bool:
    """Whether a movement is one of the engine: readings that follow each other go together, unlike noise."""
    away = values - np.mean(values)
    return float(away[1:] @ away[:-1]) > 0.3 * float(away @ away)


def _lamps(speed: _Stream, volts: _Stream) -> str:
    lamp = _lamp(speed, volts)
    if lamp is None:
        return ""
    return (
        f"The tachometer stands {lamp.words} while the volts move: it "
        f"may be counting a lamp, at {lamp.rpm / 60.0:.0f} flashes a second. Switch off or shade the lamps near it, "
        "aim it at the mark from closer, and look again."
    )


def _not_following(speed: _Stream, volts: _Stream) -> str:
    some = spread(len(speed.time_s))
    at = volts.at(speed.time_s[some])
    known = np.isfinite(at)
    s, v = speed.value[some][known], at[known]
    if len(s) < LEAST_READINGS:
        return ""
    low, high = np.quantile(s, (0.25, 0.75))
    low_rpm, high_rpm = float(np.median(s[s <= low])), float(np.median(s[s >= high]))
    low_v, high_v = float(np.median(v[s <= low])), float(np.median(v[s >= high]))
    if low_rpm <= 0.0 or high_rpm < 1.15 * low_rpm:
        return ""
    middle = float(np.median(v))
    seen = f"while the speed went from {low_rpm:.0f} to {high_rpm:.0f} rpm"
    if abs(middle) < _NEAR_ZERO_V:
        return (
            f"The volts stay near 0 ({middle:.3g} V) {seen}: see that the meter is on AC volts (V~) "
            "and that its leads are in the right sockets and touch bare metal of the alternator's AC wires; "
            "if all that is right, the alternator puts nothing out."
        )
    if (high_v - low_v) / abs(middle) >= 0.2 * (high_rpm - low_rpm) / float(np.median(s)):
        return ""
    if _BATTERY_V[0] <= middle <= _BATTERY_V[1]:
        return (
            f"The volts stay at {middle:.3g} V {seen}: these look like the battery's. Turn the meter to "
            "AC volts (V~) and put its leads on the alternator's AC wires, ahead of the rectifier."
        )
    return (
        f"The volts do not follow the speed: about {middle:.3g} V {seen}. Turn the meter to AC volts (V~), "
        "put its leads on the alternator's unplugged AC wires, and aim the tachometer at one clean mark."
    )


def _twice_and_half(speed: _Stream, volts: _Stream, blamed_s: Floats | None) -> list[str]:
    """Multiples of what the volts say beside them; where it is known which are false, only those.

    For after a quick change of throttle the volts beside a reading may still be those of before.
    """
    if blamed_s is not None and len(blamed_s) == 0:
        return []
    at = volts.at(speed.time_s)
    usable = np.isfinite(at) & (at > _NEAR_ZERO_V) & (speed.value > 0.0)
    total = int(usable.sum())
    if total < LEAST_READINGS:
        return []
    ratio = speed.value[usable] / at[usable]
    ratio = ratio / np.median(ratio)
    if blamed_s is not None:
        ratio = ratio[np.isin(speed.time_s[usable], blamed_s)]
    return [
        sign
        for factor, word, other in ((2.0, "twice", "half"), (0.5, "half of", "twice"))
        if (sign := _multiple(int((np.abs(ratio / factor - 1.0) < 0.06).sum()), total, word, other))
    ]


def _multiple(count: int, total: int, word: str, other: str) -> str:
    if count < max(2, 0.03 * total):
        return ""
    seen = f"{count} of {total} speed readings are {word} what the volts say"
    if count > 0.3 * total:
        return (
            f"{seen}, or the others are {other}: put on one clean mark, cover everything else on the shaft "
            "that shines, and compare again."
        )
    if word == "twice":
        return (
            f"{seen}: the tachometer counts a second spot at times. Leave one mark only, and cover bolts, "
            "scratches and old tape with black tape."
        )
    return (
        f"{seen}: the tachometer misses the mark at times. Clean the mark or put on a larger one, "
        "and hold the tachometer steady at its distance."
    )
