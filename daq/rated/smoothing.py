"""A tach that smooths its readings more than the alignment takes it to.

A display that follows slowly, or a mean over a second or two shown twice a second, draws the speed flatter than it
is: too low at its tops and too high at its bottoms. A delay shows as a lag, this does not. To second order the
speed itself is what the tach shows less half the variance s² of what it smooths with, times the bend of that::

    n = n_shown - s²/2 · n''_shown        s² = T² for a display of time constant T,
                                          s² = W²/12 for a mean over a window W

(the first terms of 1/exp(s²ω²/2)). Volts in proportion to n ask for s² beside what else may be left of them: a
lag, the meter's zero, and a bend. The second difference of the speed is taken over seconds, so that neither the
tach's digits nor what a slow display can't show at all decide.

On a sweep that repeats itself smoothing and an offset of the volts look alike: what is held to the meter's zero is
the smoothing then, and whether a free offset would explain it as well is said.

The widths and limits are judgements (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.scatter import correlation_time, robust_sd

__all__ = ["Smoothing", "find_smoothing"]

Floats = NDArray[np.float64]

_REACH_S = 2.0
"""Over so much on either side the bend of the speed is taken."""
_LEAST_ROWS = 30
_SUSPECT, _SURE = 2.0, 3.0
"""Standard uncertainties beyond which it is reckoned with, and beyond which it is seen."""
_LIKELY, _QUICK = 1.0, 2.0
"""The same where quick moves show it too, by so many of their own."""
_LEAST_SHARE = 0.1
"""Least variance of it, halved, in tach intervals squared: between its readings the speed is drawn, not measured."""
_HOLES = 2.5
"""Usual intervals between rows from which on nothing is drawn from one to the next."""
_WIDTHS = (0.003, 0.1, 0.3)
"""Prior widths: an offset and a bend as shares of the output, and seconds of lag left in the rows."""
_FREE = 0.3
"""Prior width of an offset that may be anything."""
_MOST_S2 = 3.0
"""Prior width of the smoothing, half a variance in s²; no display is slower than some seconds."""
_FINEST = 1e-5
"""Least scatter that is reckoned with, as a share of the volts."""
_BIWEIGHT, _LEAST_WEIGHT = 4.685, 0.1
_BEND = 4
"""Column of the bend of the speed, after speed, offset, bend of the line, and slope."""


@dataclass(frozen=True)
class Smoothing:
    """How much more the tach smooths, and what that does."""

    time_s: float
    """Time constant of the display that would do it."""
    effect_v: float
    """How much too high the output comes out by it."""
    seen: bool
    """Beyond doubt; else it is only likely."""
    or_offset: bool
    """An offset of the volts explains it as well."""


def find_smoothing(
    time_s: Floats,
    voltage_v: Floats,
    speed_rpm: Floats,
    slope_rpm_s: Floats,
    *,
    rated_rpm: float,
    reach: float,
    period_s: float,
) -> Smoothing | None:
    """Find whether the tach smooths more than assumed; None where nothing speaks for it.

    Args:
        time_s: of the rows that count, shape (n,), rising.
        voltage_v: their volts, shape (n,).
        speed_rpm: their speed as aligned, shape (n,), above 0.
        slope_rpm_s: its rate of change, shape (n,).
        rated_rpm: the rated test speed.
        reach: how far from it the rows go on which the output rests, as a share of it.
        period_s: the tach's usual interval.
    """
    if len(time_s) < _LEAST_ROWS or not float(np.median(voltage_v)) > 0.0:
        return None
    wide_s, sharp_s = max(_REACH_S, 2.0 * period_s), max(0.5, period_s)
    bend, known = _bend_of_speed(time_s, speed_rpm, wide_s)
    if int(known.sum()) < _LEAST_ROWS:
        return None
    volts, n, slope = voltage_v[known], speed_rpm[known], slope_rpm_s[known]
    sharp = _bend_of_speed(time_s, speed_rpm, sharp_s)[0][known]
    bend = bend[known]
    columns = _columns(volts, n, slope, bend)
    solved, u = _fitted(volts, columns, _WIDTHS)
    quick = _by_quick_moves(volts, n, slope, sharp, sharp_s)
    if -solved[_BEND] < max((_LIKELY if quick else _SUSPECT) * u[_BEND], _LEAST_SHARE * sharp_s**2):
        return None
    used = np.abs(n / rated_rpm - 1.0) <= reach
    if not bool(used.any()):
        return None
    moved = (solved[_BEND] * bend + solved[_BEND - 1] * slope) / n
    effect_v = float(np.mean(np.abs(volts[used]) * rated_rpm / n[used] * moved[used]))
    free, u_free = _fitted(volts, columns, (_FREE, *_WIDTHS[1:]))
    or_offset = bool(-free[_BEND] < _SURE * u_free[_BEND])
    seen = quick or bool(-solved[_BEND] > _SURE * u[_BEND])
    return Smoothing(float(np.sqrt(-2.0 * solved[_BEND])), -effect_v, seen, or_offset)


def _by_quick_moves(volts: Floats, n: Floats, slope: Floats, bend: Floats, reach_s: float) -> bool:
    """Whether the bend over one interval of the tach shows the smoothing."""
    solved, u = _fitted(volts, _columns(volts, n, slope, bend), _WIDTHS)
    return bool(-solved[_BEND] > max(_QUICK * u[_BEND], _LEAST_SHARE * reach_s**2))


def _bend_of_speed(time_s: Floats, speed_rpm: Floats, reach_s: float) -> tuple[Floats, NDArray[np.bool_]]:
    """Second derivative of the speed at each row, and where both sides are known without a hole."""
    steps = np.diff(time_s)
    hole = np.concatenate(([0.0], np.cumsum(steps > max(_HOLES * float(np.median(steps)), 0.5 * reach_s))))
    before, after = time_s - reach_s, time_s + reach_s
    known = (before >= time_s[0]) & (after <= time_s[-1])
    known &= np.interp(before, time_s, hole) == np.interp(after, time_s, hole)
    sides = np.interp(before, time_s, speed_rpm) + np.interp(after, time_s, speed_rpm)
    return (sides - 2.0 * speed_rpm) / reach_s**2, known


def _columns(volts: Floats, n: Floats, slope: Floats, bend: Floats) -> Floats:
    """What may be in the volts, each as volts: speed, offset, bend of the line, lag and smoothing; shape (n, 5)."""
    middle = float(np.median(n))
    off = n / middle - 1.0
    rpm = np.stack((n, np.full(len(n), middle), middle * off * off, slope, bend), axis=1)
    return np.asarray(rpm * float(np.median(volts / n)))


def _fitted(volts: Floats, columns: Floats, widths: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Least squares with a biweight and what is likely beforehand: the coefficients and their uncertainties."""
    likely = np.diag(np.concatenate(([0.0], np.square(1.0 / np.array([*widths, _MOST_S2])))))
    finest = max(_FINEST * float(np.median(np.abs(volts))), 1e-9)
    weight, solved = np.ones(len(volts)), np.zeros(columns.shape[1])
    inverse: Floats = np.eye(columns.shape[1])
    residual = volts - columns[:, 0]
    for _ in range(10):
        sd = max(robust_sd(residual), finest)
        variance = sd * sd * correlation_time(residual)
        weighted = columns * weight[:, None]
        inverse = np.asarray(np.linalg.inv(weighted.T @ columns / variance + likely), dtype=np.float64)
        before, solved = solved, inverse @ (weighted.T @ volts) / variance
        residual = volts - columns @ solved
        sd = max(robust_sd(residual), finest)
        weight = np.square(np.clip(1.0 - np.square(residual / (_BIWEIGHT * sd)), 0.0, None))
        # Where the rows stand at two levels a fit between them may weigh none.
        if float(weight.sum()) < _LEAST_WEIGHT * len(weight) or float(np.max(np.abs(solved - before))) < 1e-8:
            break
    return solved, np.sqrt(np.maximum(np.diag(inverse), 0.0))
