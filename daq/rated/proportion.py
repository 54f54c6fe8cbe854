"""Is the output really proportional to speed? The straight line, its offset, sag, and hysteresis.

A permanent-magnet alternator without load gives volts in proportion to speed:
a straight line through the origin. What departs from it is a finding of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.scatter import correlation_time, robust_sd
from daq.rated.line_fit import LineFit, fit_line

__all__ = ["Proportion", "examine_proportion"]

Floats = NDArray[np.float64]

_LEAST_ROWS = 12
_MOST_ROWS = 300_000
"""Of longer runs every n-th row is taken: the meter's limits rule long before."""
_LEAST_RANGE = 0.12
"""Share of rated speed that the speeds must span before a line says anything."""
_LEAST_TOP = 0.04
"""Share of the highest speed that its upper two fifths must span to be looked at alone."""
_HELD = 0.4
_BANDS = 20
"""Bands of speed within which rows are compared with each other."""
_NO_OUTLIER = 0.005
"""Share of the volts within which a row is no outlier however quiet the others are."""


@dataclass(frozen=True)
class Proportion:
    """What the rows say of proportionality; None where the speeds span too little."""

    line: LineFit | None = None
    """V = offset + slope · n; the uncertainties carry the residuals' autocorrelation."""
    elasticity: float | None = None
    """d ln V / d ln n: 1 in proportion, near 0 where the volts do not follow the speed."""
    sag: float | None = None
    """Share by which V/n at the highest speeds lies under V/n in the middle."""
    u_sag: float | None = None
    hysteresis_v: float | None = None
    """Mean residual while speeding up less that while slowing down."""
    u_hysteresis_v: float | None = None
    held_v: float | None = None
    """Volts at which they stand still at the highest speeds, where they do."""


def examine_proportion(
    speed_rpm: Floats, voltage_v: Floats, slope_rpm_s: Floats, rated_rpm: float
) -> Proportion:
    """Examine rows that count.

    Args:
        speed_rpm: shape (n,), no NaN.
        voltage_v: shape (n,), no NaN.
        slope_rpm_s: rate of change of speed, shape (n,).
        rated_rpm: the rated test speed.
    """
    if len(speed_rpm) < _LEAST_ROWS:
        return Proportion()
    step = -(-len(speed_rpm) // _MOST_ROWS)
    speed_rpm, voltage_v, slope_rpm_s = speed_rpm[::step], voltage_v[::step], slope_rpm_s[::step]
    low, high = np.percentile(speed_rpm, [4.0, 96.0])
    if high - low < _LEAST_RANGE * rated_rpm:
        return Proportion()
    keep = _without_outliers(speed_rpm, voltage_v)
    n, v, slope = speed_rpm[keep], voltage_v[keep], slope_rpm_s[keep]
    plain = fit_line(n, v)
    residual = v - plain.offset - plain.slope * n
    widen = float(np.sqrt(correlation_time(residual)))
    line = LineFit(
        plain.offset,
        plain.u_offset * widen,
        plain.slope,
        plain.u_slope * widen,
        plain.correlation,
        plain.residual_sd,
        plain.r_squared,
        plain.degrees_of_freedom,
    )
    mean_v = float(np.mean(v))
    elasticity = plain.slope * float(np.mean(n)) / mean_v if mean_v > 0.0 else None
    sag, u_sag = _sag(n, v)
    hysteresis, u_hysteresis = _hysteresis(residual, slope, widen)
    return Proportion(line, elasticity, sag, u_sag, hysteresis, u_hysteresis, _held(n, v))


def _without_outliers(n: Floats, v: Floats) -> NDArray[np.bool_]:
    """Rows not far from what most others at about the same speed say.

    Held against their neighbours in speed and not against a straight line, so
    that a sag, which lies beside the line as a whole, is not taken for outliers.
    """
    usual = _usual_ratio(n, v / n) * n
    residual = v - usual
    sd = robust_sd(residual)
    keep = np.abs(residual) <= np.maximum(4.0 * sd, _NO_OUTLIER * np.abs(usual))
    if int(keep.sum()) < _LEAST_ROWS or float(np.ptp(n[keep])) == 0.0:
        return np.ones(len(n), dtype=np.bool_)
    return keep


def _usual_ratio(n: Floats, ratio: Floats) -> Floats:
    """Median of V/n in bands of speed, drawn straight between their middles, shape (n,)."""
    low, high = float(np.min(n)), float(np.max(n))
    bands = int(np.clip(len(n) // _LEAST_ROWS, 1, _BANDS))
    band = np.minimum(((n - low) / (high - low) * bands).astype(np.int8), bands - 1)
    order = np.argsort(band, kind="stable")
    groups = [g for g in np.split(order, np.flatnonzero(np.diff(band[order])) + 1) if len(g) >= 5]
    if len(groups) < 2:
        return np.full(len(n), np.median(ratio))
    at = np.array([np.median(n[g]) for g in groups])
    level = np.array([np.median(ratio[g]) for g in groups])
    usual = np.interp(n, at, level)
    for side, i, j in ((n < at[0], 0, 1), (n > at[-1], -1, -2)):
        usual[side] += (level[i] - level[j]) / (at[i] - at[j]) * (n[side] - at[i])
    return np.asarray(usual)


def _sag(n: Floats, v: Floats) -> tuple[float | None, float | None]:
    """V/n of the top fifth of the speed range against that of the middle two fifths."""
    low, high = float(np.min(n)), float(np.max(n))
    place = (n - low) / (high - low)
    ratio = v / n
    top, middle = ratio[place > 0.8], ratio[(place > 0.3) & (place < 0.7)]
    if len(top) < 4 or len(middle) < 4:
        return None, None
    reference = float(np.median(middle))
    if reference == 0.0:
        return None, None
    sag = 1.0 - float(np.median(top)) / reference
    u = np.hypot(robust_sd(top) / np.sqrt(len(top)), robust_sd(middle) / np.sqrt(len(middle)))
    return sag, 1.25 * float(u) / abs(reference)


def _held(n: Floats, v: Floats) -> float | None:
    """Median volts of the upper two fifths of the speed range, if there they hardly rise with the speed.

    As a regulator holds them: less than ``_HELD`` of proportion, beyond doubt, while they rose before.
    """
    low, high = float(np.min(n)), float(np.max(n))
    top = n > low + 0.6 * (high - low)
    n, v = n[top], v[top]
    if len(n) < _LEAST_ROWS or float(np.ptp(n)) < _LEAST_TOP * high or float(np.mean(v)) <= 0.0:
        return None
    line = fit_line(n, v)
    residual = v - line.offset - line.slope * n
    to_elasticity = float(np.mean(n) / np.mean(v))
    u = to_elasticity * line.u_slope * float(np.sqrt(correlation_time(residual)))
    return float(np.median(v)) if to_elasticity * line.slope + 3.0 * u < _HELD else None


def _hysteresis(residual: Floats, slope: Floats, widen: float) -> tuple[float | None, float | None]:
    moving = float(np.percentile(np.abs(slope), 60.0))
    up, down = residual[slope > moving], residual[slope < -moving]
    if len(up) < 6 or len(down) < 6:
        return None, None
    u = np.hypot(np.std(up, ddof=1) / np.sqrt(len(up)), np.std(down, ddof=1) / np.sqrt(len(down)))
    return float(np.mean(up) - np.mean(down)), widen * float(u)
