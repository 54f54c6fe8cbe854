"""The engine was stopping when the recording ended: both streams were falling, neither had time to stay away."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.job.streams.steady import STOPPED_RPM
from daq.job.streams.stopping import EngineStop

__all__ = ["fell_at_end_rpm", "find_stop_at_end"]

Floats = NDArray[np.float64]

_LAST = 16
_FULL_SHARE = 0.95
_LONGEST_S = 6.0
"""From full speed to the recording's end; what fell away earlier had time to stay away."""
_USUAL_S = 3.0
_SILENT_S = 1.0
_SILENT_INTERVALS = 3.0
_FALLING = 0.9
_LEFT_SHARE = 0.6
"""Of what the engine makes: under this it has fallen with the speed."""
_GONE_SHARE = 0.1
_MOVED_SHARE = 0.01
_MOVED_SIGMA = 6.0
_SUDDEN_SHARE = 0.25
_SUDDEN_S = 1.3


def find_stop_at_end(
    speed_time_s: Floats,
    speed_rpm: Floats,
    signal_time_s: Floats,
    signal: Floats,
    *,
    least_running_rpm: float,
    to_nothing: bool,
) -> EngineStop | None:
    """Find an engine that was stopping when the recording ended.

    The speed has to be lower than this engine can run at, or the tach to have fallen silent, and what the
    engine makes has to have left its usual place since then. A throttle that was let go ends at idle.

    Args:
        speed_time_s: arrival of the speed readings, shape (n,).
        speed_rpm: shape (n,), no NaN.
        signal_time_s: arrival of what goes with the engine, shape (m,).
        signal: shape (m,), no NaN.
        least_running_rpm: below this the engine can't run by itself.
        to_nothing: the signal falls to nothing with the engine (volts of the stator); False where it falls
            to what stands there without it (volts of the battery).
    """
    if len(speed_time_s) < 4 or len(signal_time_s) < 4:
        return None
    ran = speed_rpm[speed_rpm > least_running_rpm]
    if len(ran) < 3:
        return None
    before_rpm = float(np.percentile(ran[-_LAST:], 75.0))
    full_s = float(speed_time_s[speed_rpm >= _FULL_SHARE * before_rpm][-1])
    end_s = float(max(speed_time_s[-1], signal_time_s[-1]))
    if end_s - full_s > _LONGEST_S:
        return None
    if not (_too_slow(speed_rpm, least_running_rpm) or _silent(speed_time_s, end_s)):
        return None
    if not _fell(signal_time_s, signal, full_s, to_nothing=to_nothing):
        return None
    return EngineStop(full_s, before_rpm, at_end=True)


def fell_at_end_rpm(time_s: Floats, speed_rpm: Floats) -> float | None:
    """The speed at a recording's end where it was falling steeply then; None where it was not."""
    if len(time_s) < 4:
        return None
    lately = speed_rpm[time_s >= time_s[-1] - _SUDDEN_S]
    falling = len(lately) >= 3 and bool(np.all(np.diff(lately) < 0.0))
    usual = float(np.percentile(speed_rpm[-_LAST:], 75.0))
    if not falling or lately[0] - lately[-1] < _SUDDEN_SHARE * usual:
        return None
    return float(lately[-1])


def _too_slow(speed_rpm: Floats, least_running_rpm: float) -> bool:
    """The last reading is, and falls still or stands; the one before it was on the way: one alone is a lost mark."""
    last, one_before = float(speed_rpm[-1]), float(speed_rpm[-2])
    usual = float(np.percentile(speed_rpm[-_LAST:], 75.0))
    # An engine that idles more slowly than its card says stays where it is.
    falling = last < _FALLING * one_before or last < STOPPED_RPM
    return last < least_running_rpm and falling and one_before < _FALLING * usual


def _silent(time_s: Floats, end_s: float) -> bool:
    interval = float(np.median(np.diff(time_s)))
    return end_s - float(time_s[-1]) >= max(_SILENT_S, _SILENT_INTERVALS * interval)


def _fell(time_s: Floats, signal: Floats, full_s: float, *, to_nothing: bool) -> bool:
    usual_ones = signal[(time_s <= full_s) & (time_s >= full_s - _USUAL_S)]
    since = signal[time_s > full_s]
    if len(usual_ones) < 3 or len(since) < 2:
        return False
    usual = float(np.median(usual_ones))
    if to_nothing:
        one_before, last = np.abs(since[-2:])
        return bool(last <= _LEFT_SHARE * abs(usual) and last <= max(one_before, _GONE_SHARE * abs(usual)))
    spread = 1.4826 * float(np.median(np.abs(usual_ones - usual)))
    moved = max(_MOVED_SIGMA * spread, _MOVED_SHARE * abs(usual))
    return abs(float(since[-1]) - usual) > moved
