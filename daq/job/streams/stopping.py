"""The engine stopped by itself during a test: seen in both streams, not in one.

A tach that loses its mark also falls to nothing, and so do volts from a loose
lead. Only where both go, and stay away, did the engine stop.
"""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from daq.job.streams.steady import STOPPED_RPM

__all__ = ["STOP_CAUSES", "EngineStop", "StopCause", "find_stop"]

Floats = NDArray[np.float64]

_GONE_SHARE = 0.1
_STAYS_S = 1.5
_TOGETHER_S = 4.0
_SILENT_S = 3.0
_RAN_S = 1.0
_LAST = 16


class StopCause(msgspec.Struct, frozen=True):
    """A usual cause, how to look for it, and the caution that goes with it."""

    cause: str
    look: str
    caution: str


STOP_CAUSES = (
    StopCause(
        "Fuel",
        "Fuel tap, level, filter and the tank's vent.",
        "Let the engine cool before refuelling, outdoors, with no flame near; wipe up spills before starting.",
    ),
    StopCause(
        "Low-oil cut-out",
        "Oil level, engine level and standing still.",
        "Oil and engine are hot; never bridge the cut-out to go on without oil.",
    ),
    StopCause(
        "Stop lead touching ground",
        "The stop switch's lead, above all near the leads that were just moved.",
        "The lead carries the ignition's volts while the engine turns: touch and meter it at standstill only.",
    ),
    StopCause(
        "Governor or throttle linkage",
        "Spring and rods in place, free, and not caught by a lead of the meter.",
        "Keep hands off the linkage of a running engine; never let it exceed its rated speed.",
    ),
)
"""In the order in which they are easiest to look for: common practice, no source."""


class EngineStop(msgspec.Struct, frozen=True):
    """When both streams say that the engine stopped, seconds since the run's start."""

    at_s: float
    speed_before_rpm: float
    at_end: bool = False
    """It was running down when the recording ended."""


def find_stop(
    speed_time_s: Floats, speed_rpm: Floats, signal_time_s: Floats, signal: Floats, *, signal_end_s: float
) -> EngineStop | None:
    """Find an engine stop at the end of a run.

    Args:
        speed_time_s: arrival of the speed readings, shape (n,).
        speed_rpm: shape (n,), no NaN.
        signal_time_s: arrival of what the engine makes (volts of the stator, amps of the
            regulator-rectifier), shape (m,).
        signal: shape (m,), no NaN.
        signal_end_s: when the last reading of all came: a tach that falls silent at standstill is known by it.
    """
    if len(speed_time_s) < 4 or len(signal_time_s) < 4:
        return None
    speed_gone_s = _speed_gone(speed_time_s, speed_rpm, signal_end_s)
    signal_gone_s = _signal_gone(signal_time_s, signal)
    if speed_gone_s is None or signal_gone_s is None:
        return None
    if abs(speed_gone_s - signal_gone_s) > _TOGETHER_S:
        return None
    before = speed_rpm[(speed_time_s < speed_gone_s) & (speed_rpm > STOPPED_RPM)]
    if len(before) < 2:
        return None
    # The last readings before it come from an engine that is running down already.
    return EngineStop(min(speed_gone_s, signal_gone_s), float(np.percentile(before[-_LAST:], 75.0)))


def _speed_gone(time_s: Floats, speed_rpm: Floats, end_s: float) -> float | None:
    ran = np.flatnonzero(speed_rpm > STOPPED_RPM)
    if len(ran) < 2 or time_s[ran[-1]] - time_s[ran[0]] < _RAN_S:
        return None
    last = int(ran[-1])
    if last + 1 < len(time_s):
        gone = float(time_s[last + 1])
        return gone if end_s - gone >= _STAYS_S else None
    silent = end_s - float(time_s[last])
    return float(time_s[last]) if silent >= _SILENT_S else None


def _signal_gone(time_s: Floats, signal: Floats) -> float | None:
    size = np.abs(signal)
    usual = float(np.percentile(size, 75.0))
    if usual <= 0.0:
        return None
    there = np.flatnonzero(size > _GONE_SHARE * usual)
    last = int(there[-1])
    if last + 1 >= len(time_s):
        return None
    gone = float(time_s[last + 1])
    return gone if float(time_s[-1]) - gone >= _STAYS_S else None
