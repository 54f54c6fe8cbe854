"""From raw channels to streams the kernel can take: placed in time, false readings marked, response known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.bursts import find_bursts
from daq.align.coarse_stamps import find_coarse_stamps
from daq.align.false_readings import STOPPED_RPM, FalseReadings, find_false_readings
from daq.align.marks import Mark
from daq.align.repeats import find_repeats
from daq.align.snaps import LevelChanges, level_changes
from daq.align.timebase import TimeBase, fit_time_base, rising
from daq.align.two_cores import both
from daq.cards.instrument import ChannelCard

__all__ = ["PlacedStreams", "Stream", "changes_of", "place_streams"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stream:
    """A channel as it came; arrays of shape (n,)."""

    time_s: Floats
    """Arrival or device time, seconds, not falling."""
    value: Floats
    """NaN where there was none."""
    flagged: NDArray[np.bool_]
    """The instrument or decoder flagged it."""
    card: ChannelCard | None
    own_clock: bool = False
    """The times are the instrument's own, mapped to ours: they need no smoothing."""
    counts_revolutions: bool = False


@dataclass(frozen=True)
class PlacedStreams:
    """Both streams on one time base, with what is wrong with each reading."""

    speed_base: TimeBase
    volts_base: TimeBase
    speed: Floats
    """rpm, or cumulative revolutions where the tach counts; shape (n,)."""
    volts: Floats
    marks: FalseReadings
    counted: bool

    @property
    def usable_speed(self) -> tuple[Floats, Floats]:
        """Times and values of the speed readings that count, an engine at rest among them."""
        good = (self.marks.speed == Mark.GOOD) | (self.marks.speed == Mark.STOPPED)
        return _chosen(good, self.speed_base.time_s, self.speed)

    @property
    def usable_volts(self) -> tuple[Floats, Floats]:
        """Times and values of the volts readings that count."""
        return _chosen(self.marks.volts == Mark.GOOD, self.volts_base.time_s, self.volts)


def place_streams(
    speed: Stream, volts: Stream, *, digit_v: float, digit_rpm: float, shift_s: float | None = 0.0
) -> PlacedStreams:
    """Put both streams on one time base and mark what is false.

    Args:
        speed: as it came.
        volts: as it came.
        digit_v: the meter's last digit.
        digit_rpm: the tach's last digit.
        shift_s: about how much later the volts come; None where that isn't known yet, and then neither
            stream is judged by the other.
    """
    (speed_base, speed_again), (volts_base, volts_again) = both(
        lambda: _placed(speed), lambda: _placed(volts), readings=len(speed.time_s) + len(volts.time_s)
    )
    rpm = _rpm(speed_base.time_s, speed.value) if speed.counts_revolutions else speed.value
    marks = find_false_readings(
        speed_base.time_s,
        _new(_unflagged(speed, rpm), speed_again),
        volts_base.time_s - shift_s if shift_s else volts_base.time_s,
        _new(_unflagged(volts, volts.value), volts_again),
        together=shift_s is not None,
        resolution_v=digit_v,
        resolution_rpm=digit_rpm,
    )
    for stream, mark in ((speed, marks.speed), (volts, marks.volts)):
        mark[stream.flagged & np.isfinite(stream.value)] = Mark.INSTRUMENT_FLAGGED
    for again, mark in ((speed_again, marks.speed), (volts_again, marks.volts)):
        if again is not None:
            mark[again] = Mark.REPEATED
    return PlacedStreams(speed_base, volts_base, speed.value, volts.value, marks, speed.counts_revolutions)


def _chosen(good: NDArray[np.bool_], time_s: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Times and values of the readings chosen; no copies where all are."""
    return (time_s, value) if bool(good.all()) else (time_s[good], value[good])


def _unflagged(stream: Stream, value: Floats) -> Floats:
    """The values, NaN where the reading is flagged."""
    return np.where(stream.flagged, np.nan, value) if bool(stream.flagged.any()) else value


def _new(value: Floats, again: NDArray[np.bool_] | None) -> Floats:
    """The values, NaN where a reading only repeats the one before."""
    return value if again is None else np.where(again, np.nan, value)


def changes_of(streams: PlacedStreams) -> tuple[LevelChanges, LevelChanges]:
    """The quick changes of level of the speed and of the volts, false readings among them."""
    speed = np.isfinite(streams.speed) & (streams.marks.speed != Mark.REPEATED)
    volts = np.isfinite(streams.volts) & (streams.marks.volts != Mark.REPEATED)
    return (
        level_changes(streams.speed_base.time_s[speed], streams.speed[speed]),
        level_changes(streams.volts_base.time_s[volts], streams.volts[volts]),
    )


def _placed(stream: Stream) -> tuple[TimeBase, NDArray[np.bool_] | None]:
    """Where the readings belong, and which only repeat the one before, where it is read faster than it measures."""
    if stream.own_clock or stream.counts_revolutions:
        return fit_time_base(stream.time_s, periodic=False), None
    repeats = find_repeats(stream.time_s, stream.value)
    if repeats is not None:
        return repeats.base, repeats.repeated
    if stream.card is not None and stream.card.response.pace == "on_request":
        return fit_time_base(stream.time_s, periodic=False), None
    bursts = find_bursts(stream.time_s) if find_coarse_stamps(stream.time_s) is None else None
    if bursts is None:
        return fit_time_base(stream.time_s), None
    return TimeBase(rising(bursts.time_s), bursts.period_s, bursts.scatter_s, 1, burst_s=bursts.apart_s), None


def _rpm(time_s: Floats, turns: Floats) -> Floats:
    """Mean speed since the reading before, for the rules on false readings; at a new start, that to the next."""
    rpm = np.full(len(turns), np.nan)
    known = np.flatnonzero(np.isfinite(turns))
    if len(known) > 1:
        since = np.diff(turns[known])
        speed = 60.0 * since / np.diff(time_s[known])
        anew = np.concatenate(([True], since < 0.0))
        rpm[known] = np.where(anew, np.append(speed, np.nan), np.concatenate(([np.nan], speed)))
    # Below this an event counter simply had no event yet.
    return np.where(np.abs(rpm) < STOPPED_RPM, 0.0, rpm)
