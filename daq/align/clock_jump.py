"""A log whose clock was set in the middle: the two sides of a gap then need different shifts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.lag import LagEstimate, estimate_lag
from daq.align.lag_fit import LagPrior
from daq.align.revolution_table import RevolutionTable
from daq.align.streams import PlacedStreams
from daq.align.synchronizer import AlignmentParameters

__all__ = ["ClockJump", "find_clock_jump"]

Floats = NDArray[np.float64]

_GAP_S = 2.0
_LEAST_ROWS = 30
_APART_S = 0.5


@dataclass(frozen=True)
class ClockJump:
    """Where the shift changes, and by how much."""

    at_s: float
    """Time in the run, seconds."""
    by_s: float


def find_clock_jump(
    streams: PlacedStreams, parameters: AlignmentParameters, prior: LagPrior, digit_v: float
) -> ClockJump | None:
    """Look at both sides of each gap in either log; None where their shifts agree or can't be seen.

    Args:
        streams: both, placed.
        parameters: of the alignment of the whole run.
        prior: how far to search.
        digit_v: the meter's last digit.
    """
    speed_t, speed = streams.usable_speed
    volts_t, volts = streams.usable_volts
    table = RevolutionTable.of(
        speed_t,
        speed,
        model=parameters.tach_model,
        period_s=parameters.tach_period_s,
        max_gap_s=parameters.max_gap_s,
    )
    edges = np.concatenate(([-np.inf], _gap_ends(volts_t), _gap_ends(speed_t) + parameters.lag_s, [np.inf]))
    edges.sort()
    seen: list[tuple[float, LagEstimate]] = []
    for begin, end in zip(edges[:-1], edges[1:], strict=True):
        part = (volts_t >= begin) & (volts_t < end)
        if int(part.sum()) < _LEAST_ROWS:
            continue
        lag = estimate_lag(
            table,
            volts_t[part],
            volts[part],
            window_s=parameters.voltage_window_s,
            prior=prior,
            resolution_v=digit_v,
        )
        if lag.determined and not lag.rivals_s:
            seen.append((float(begin), lag))
    for (_, before), (at_s, after) in zip(seen[:-1], seen[1:], strict=True):
        change = after.lag_s - before.lag_s
        if abs(change) > _APART_S + 5.0 * float(np.hypot(before.u_s, after.u_s)):
            return ClockJump(at_s, change)
    return None


def _gap_ends(time_s: Floats) -> Floats:
    return np.asarray(time_s[1:][np.diff(time_s) > _GAP_S])
