"""Amps at each speed that was held in a recording: the points of an output curve."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from daq.job.evidence.observed import CurvePoint
from daq.job.evidence.series import Series
from daq.job.streams.steady import Plateau
from daq.job.streams.weighted import time_mean

__all__ = ["curve_points"]

_SETTLE_S = 1.0


def curve_points(
    series: Series, held: Sequence[Plateau], share: float, counts: float
) -> tuple[CurvePoint, ...]:
    """One point for each held speed with readings in it, in order of speed.

    Args:
        series: the amps.
        held: the held speeds.
        share: the meter's limit as a share of the reading.
        counts: the meter's fixed limit, A.
    """
    points = []
    for plateau in held:
        settled = min(_SETTLE_S, 0.5 * plateau.length_s)
        time_s, value = series.within(plateau.from_s + settled, plateau.to_s + 0.3).good
        if len(value) < 2:
            continue
        mean = time_mean(time_s, value)
        limits = ((share * mean.mean) ** 2 + counts**2) / 3.0
        u = float(np.sqrt(mean.scatter_u**2 + limits))
        points.append(CurvePoint(plateau.speed_rpm, mean.mean, u, float(np.sqrt(limits))))
    return tuple(sorted(points, key=lambda point: point.speed_rpm))
