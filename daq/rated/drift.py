"""An output that moves slowly with time, as that of a winding or magnets that get hot.

The ratio of volts to speed is fitted against time directly. Rows that depart
from the most others do not show a slow move: it widens their scatter, by which
they would be found. Beside time stand what else may move the ratio and is no
drift: the lag between the streams (with the slope of the speed), an offset and
a bend of the volts over speed; each held by what is likely of it. On a ramp one
way they and time look alike, and nothing is said of a drift.

The widths and limits are judgements (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.scatter import correlation_time, robust_sd

__all__ = ["Drift", "find_drift"]

Floats = NDArray[np.float64]

_LEAST_ROWS = 20
_LEAST_SHARE = 0.005
"""Share of the output under which a change from begin to end is not told."""
_SURE = 4.0
"""Standard uncertainties beyond which it is."""
_CURVED = 3.0
_SPAN = 0.05
"""Share by which the speed must span before it can hide what moves with time."""
_TOGETHER = 0.9
"""Correlation of speed and time from which on it does."""
_WIDTHS = (0.3, 0.15, 0.15)
"""Prior widths: seconds of lag left in the rows, an offset and a bend as shares of the output."""
_MOVES = (0.05, 0.03)
"""Prior widths of the drift from the middle of the run to its end, and of its curve."""
_PER_S = 0.002
"""No more than this share a second: what warms takes its time."""
_BIWEIGHT = 4.685
_SETTLED = 1e-6
_STATED = 6.0
"""Robust standard deviations from which on a row weighs nothing in the stated value."""
_CUTS = 24
"""Into so many parts a run is cut to look for a step between them."""
_STEP_FITS = 0.8
"""Times what a drift leaves, on average over the rows, that a step must leave to be told in its place."""


@dataclass(frozen=True)
class Drift:
    """How the output at rated speed moved."""

    begin_v: float
    end_v: float
    residual_v: float
    """Standard deviation of a row around the moving output."""
    repeats: float
    """How many rows in a row carry the information of one."""
    step_at_s: float | None
    """When the output changed at once, where that fits better than a slow move."""
    from_s: float
    until_s: float
    moves: tuple[float, float]
    """Share of the output by which it moves from the middle to the end, and its curve."""
    middle: float
    """Mean of what :meth:`course` adds, over the rows that the stated value rests on, as they weigh in it."""

    def course(self, time_s: Floats) -> Floats:
        """Output at moments over the stated one, shape of ``time_s``."""
        if self.step_at_s is not None:
            return np.asarray(
                1.0 + np.where(time_s < self.step_at_s, -1.0, 1.0) * self.moves[0] - self.middle
            )
        tau = 2.0 * (time_s - self.from_s) / (self.until_s - self.from_s) - 1.0
        return np.asarray(1.0 + _moved(tau, self.moves) - self.middle)

    @property
    def low_v(self) -> float:
        """The lower of begin and end."""
        return min(self.begin_v, self.end_v)

    @property
    def high_v(self) -> float:
        """The higher of begin and end."""
        return max(self.begin_v, self.end_v)

    @property
    def falls(self) -> bool:
        """The end lies lower."""
        return self.end_v < self.begin_v

    def limit_v(self, value: float) -> float:
        """How far the further end lies from a stated value."""
        return max(abs(self.begin_v - value), abs(self.end_v - value))


@dataclass(frozen=True)
class _Fit:
    coefficient: Floats
    u: Floats
    residual: Floats
    repeats: float
    sd: float


def find_drift(
    time_s: Floats,
    rated_v: Floats,
    speed_rpm: Floats,
    slope_rpm_s: Floats,
    used: NDArray[np.bool_],
    rated_rpm: float,
    value: float,
) -> Drift | None:
    """Find a drift; None where there is none beyond doubt, or one too small to matter.

    Args:
        time_s: of the rows that count, shape (n,), rising.
        rated_v: volts scaled to rated speed, shape (n,).
        speed_rpm: shape (n,), above 0.
        slope_rpm_s: rate of change of speed, shape (n,).
        used: rows on which the stated value rests, shape (n,).
        rated_rpm: the rated test speed.
        value: the stated output.
    """
    if len(time_s) < _LEAST_ROWS or value <= 0.0 or not time_s[-1] > time_s[0] or not bool(used.any()):
        return None
    tau = 2.0 * (time_s - time_s[0]) / (time_s[-1] - time_s[0]) - 1.0
    if _ramp(tau, speed_rpm):
        return None
    ratio, beside = rated_v / value, _beside(speed_rpm, slope_rpm_s, rated_rpm)
    fit = _chosen(ratio, beside, tau, 0.5 * float(time_s[-1] - time_s[0]))
    if fit is None:
        return None
    moves = float(fit.coefficient[4]), float(fit.coefficient[5]) if len(fit.coefficient) > 5 else 0.0
    change, u = 2.0 * moves[0], 2.0 * float(fit.u[4])
    if abs(change) < max(_LEAST_SHARE, _SURE * u):
        return None
    step = _step(ratio, beside, tau, _STEP_FITS * float(np.mean(np.abs(fit.residual))))
    moved = _moved(tau, moves)
    if step is not None:
        cut, fit = step
        moves, moved = (float(fit.coefficient[4]), 0.0), np.where(tau < cut, -1.0, 1.0) * fit.coefficient[4]
    weight = _as_stated(ratio[used])
    middle = float(weight @ moved[used] / weight.sum())
    span_s = float(time_s[-1] - time_s[0])
    return Drift(
        begin_v=value * (1.0 + float(moved[0]) - middle),
        end_v=value * (1.0 + float(moved[-1]) - middle),
        residual_v=value * fit.sd,
        repeats=fit.repeats,
        step_at_s=None if step is None else float(time_s[0]) + 0.5 * (step[0] + 1.0) * span_s,
        from_s=float(time_s[0]),
        until_s=float(time_s[-1]),
        moves=moves,
        middle=middle,
    )


def _ramp(tau: Floats, speed_rpm: Floats) -> bool:
    """The speed goes one way with time, and far: an offset, a bend or a lag would look like a drift."""
    low, high = np.quantile(speed_rpm, (0.05, 0.95))
    if high - low < _SPAN * high:
        return False
    return abs(float(np.corrcoef(tau, speed_rpm)[0, 1])) > _TOGETHER


def _as_stated(ratio: Floats) -> Floats:
    """About what each row weighs in the stated value, which is a ratio of 1; shape (n,)."""
    sd = robust_sd(ratio)
    if sd == 0.0:
        return np.ones_like(ratio)
    weight = np.square(np.clip(1.0 - np.square((ratio - 1.0) / (_STATED * sd)), 0.0, None))
    return weight if bool(weight.any()) else np.ones_like(ratio)


def _moved(tau: Floats, moves: tuple[float, float]) -> Floats:
    return np.asarray(moves[0] * tau + moves[1] * (np.square(tau) - 1.0 / 3.0))


def _beside(speed_rpm: Floats, slope_rpm_s: Floats, rated_rpm: float) -> Floats:
    """What moves the ratio and is no drift: nothing, a lag, an offset and a bend; shape (n, 4)."""
    stretch = rated_rpm / speed_rpm - 1.0
    return np.stack((np.ones_like(stretch), slope_rpm_s / speed_rpm, stretch, np.square(stretch)), axis=1)


def _chosen(ratio: Floats, beside: Floats, tau: Floats, half_s: float) -> _Fit | None:
    """A drift that bends where that is seen, else one straight on."""
    moves = tuple(min(width, _PER_S * half_s) for width in _MOVES)
    curved = _fitted(ratio, np.column_stack((beside, tau, np.square(tau) - 1.0 / 3.0)), moves)
    if curved is None or abs(curved.coefficient[5]) > _CURVED * curved.u[5]:
        return curved
    straight = _fitted(ratio, np.column_stack((beside, tau)), moves[:1])
    return straight if straight is not None else curved


def _fitted(ratio: Floats, columns: Floats, moves: tuple[float, ...]) -> _Fit | None:
    """Least squares with a biweight and what is likely beforehand; None where it can't be solved."""
    likely = np.concatenate(([0.0], np.square(1.0 / np.array([*_WIDTHS, *moves]))))
    weight, solved = np.ones(len(ratio)), np.zeros(columns.shape[1])
    variance = float(np.var(ratio)) + 1e-18
    inverse: Floats = np.eye(columns.shape[1])
    residual, repeats, sd = ratio, 1.0, 0.0
    for _ in range(10):
        weighted = columns * weight[:, None]
        try:
            normal = weighted.T @ columns / variance + np.diag(likely)
            inverse = np.asarray(np.linalg.inv(normal), dtype=np.float64)
        except np.linalg.LinAlgError:
            return None
        before, solved = solved, inverse @ (weighted.T @ ratio) / variance
        residual = ratio - columns @ solved
        sd = max(robust_sd(residual), 1e-9)
        repeats = correlation_time(residual)
        variance = sd * sd * repeats
        weight = np.square(np.clip(1.0 - np.square(residual / (_BIWEIGHT * sd)), 0.0, None))
        if float(np.max(np.abs(solved - before))) < _SETTLED:
            break
    kept = residual[weight > 0.0]
    spread_share = float(np.std(kept, ddof=1)) if len(kept) > 1 else sd
    # The scatter of what was kept, not the robust one alone: half of the rows may not move to the digit.
    u = np.sqrt(np.maximum(np.diag(inverse), 0.0)) * max(1.0, spread_share / sd)
    return _Fit(solved, u, residual, repeats, spread_share)


def _step(ratio: Floats, beside: Floats, tau: Floats, most: float) -> tuple[float, _Fit] | None:
    """The moment of a step, as a place from -1 to 1, and its fit; None where the best leaves more than ``most``."""

    def columns(cut: float) -> Floats:
        return np.column_stack((beside, np.where(tau < cut, -1.0, 1.0)))

    def left(cut: float) -> float:
        here = columns(cut)
        plain = np.linalg.lstsq(here, ratio, rcond=None)[0]
        return float(np.mean(np.abs(ratio - here @ plain)))

    best = min(np.linspace(-1.0, 1.0, _CUTS + 1)[1:-1].tolist(), key=left)
    fit = _fitted(ratio, columns(best), (1.0,))
    return None if fit is None or float(np.mean(np.abs(fit.residual))) > most else (best, fit)
