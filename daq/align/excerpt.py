"""Stretches of two placed streams that stand for a very long run where something is tried again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from daq.align.false_readings import FalseReadings
from daq.align.parts import LONG
from daq.align.streams import PlacedStreams
from daq.align.timebase import TimeBase

__all__ = ["excerpt"]

_T = TypeVar("_T", bound=np.generic)

_LENGTH = 2000
_MOST = 32
_MARGIN_READINGS = 25.0
"""Tach readings around a stretch, more than a row's speed depends on."""


def excerpt(streams: PlacedStreams, wanted: NDArray[np.bool_], lags_s: Sequence[float]) -> PlacedStreams:
    """Up to 32 stretches of 2000 volts readings, spread evenly over those that hold wanted ones.

    Args:
        streams: a whole run.
        wanted: volts readings of interest, shape (n,).
        lags_s: by how much the volts may come later than the speed.

    Returns:
        The stretches, each with all the speed that its rows need under any of the lags; the streams as they
        are where the run is not very long, or nothing is wanted.
    """
    if len(wanted) <= LONG or not bool(wanted.any()):
        return streams
    starts = np.arange(0, len(wanted), _LENGTH)
    holding = starts[np.logical_or.reduceat(wanted, starts)]
    chosen = holding[np.unique(np.linspace(0, len(holding) - 1, _MOST).astype(np.int64))]
    volts = [slice(start, min(start + _LENGTH, len(wanted))) for start in chosen.tolist()]
    speed = _beside(streams, volts, lags_s)
    return replace(
        streams,
        speed_base=_cut_base(streams.speed_base, speed),
        volts_base=_cut_base(streams.volts_base, volts),
        speed=_cut(streams.speed, speed),
        volts=_cut(streams.volts, volts),
        marks=FalseReadings(_cut(streams.marks.speed, speed), _cut(streams.marks.volts, volts)),
    )


def _beside(streams: PlacedStreams, volts: list[slice], lags_s: Sequence[float]) -> list[slice]:
    """The speed readings around the stretches, those that touch as one."""
    margin_s = _MARGIN_READINGS * (streams.speed_base.period_s or 1.0) + 1.0
    volts_t, speed_t = streams.volts_base.time_s, streams.speed_base.time_s
    begin_s = [volts_t[part.start] - max(lags_s) - margin_s for part in volts]
    end_s = [volts_t[part.stop - 1] - min(lags_s) + margin_s for part in volts]
    found: list[slice] = []
    for first, last in zip(np.searchsorted(speed_t, begin_s), np.searchsorted(speed_t, end_s), strict=True):
        if found and first <= found[-1].stop:
            found[-1] = slice(found[-1].start, int(last))
        else:
            found.append(slice(int(first), int(last)))
    return found


def _cut_base(base: TimeBase, places: list[slice]) -> TimeBase:
    return replace(base, time_s=_cut(base.time_s, places))


def _cut(column: NDArray[_T], places: list[slice]) -> NDArray[_T]:
    return np.concatenate([column[part] for part in places])
