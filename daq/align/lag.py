"""How much later the volts arrive than the speed: the shift that brings the two nearest to proportion.

Model: V(t) = k · n(t − L) + b + a bend + a drift, with n the mean speed over the
meter's window. k is free. b is held near zero by a prior as wide as a meter's zero
error and the bend (a parabola around the middle speed) by one of a few percent,
because on one ramp up they and a lag look the same; on a sweep up and down they
do not. The drift, slow and in proportion to the speed as of a winding that gets
hot, has a prior of some percents. L has a prior from the instruments' cards. The scatter of the
residuals gives the uncertainty: Gauss-Newton on a biweight, and the larger of
two covariances: s²·(JᵀWJ)⁻¹ with the residuals' autocorrelation, and White's
(JᵀWJ)⁻¹·(Σ w²r²JJᵀ)·(JᵀWJ)⁻¹ (Econometrica 48, 1980; from memory), because the
readings on a fast change of throttle carry the lag and scatter more than the
rest. Where the speed hardly moves the data say nothing of L: the prior's width
comes back, and ``determined`` is False.

The bound for any such estimate is sd(L) >= sigma / sqrt(sum of (dV/dt)²)
(Kay, Estimation Theory, 1993, range estimation).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from daq.align.drifting import drift_course, squares_beside_drift
from daq.align.lag_fit import LEAST_ROWS, LagFit, LagPrior, LagProblem, rise_around
from daq.align.revolution_table import RevolutionTable
from daq.align.shift_search import promising_shifts

__all__ = ["LagEstimate", "LagPrior", "RowMisfits", "estimate_lag"]

Floats = NDArray[np.float64]

_ROWS = 3000
"""At most so many volts readings are used; those where the speed moves most, and as many spread evenly."""
_ABOUT_AS_WELL = 2.0 * 0.405
"""Logarithm of 1.5²: a shift whose residuals are less than half as large again fits about as well."""
_SAME_S = 0.05
"""Shifts nearer than this to each other are one."""
_EDGE_S = 1e-3
_OTHER_WAY = 0.03
"""Least share of the squared rise that must go the other way for a lag to be told from an offset."""
_MOVED = 0.02
"""Share by which the speed must go one way for that to be told."""
_MORE_ROWS = 1.25
"""Times the rows of the best shift that make another a rival though it leaves more."""
_LEAVES_MORE = 2.0 * 1.1
"""Logarithm of 3²: residuals three times as large do for a shift that uses more of both logs."""
_TRIED_ONE_BY_ONE = 4_000_000
"""Shifts times readings up to which each shift of the grid is tried by itself."""
_SEEN_S = 0.12
"""A lag known no better than this is not called known."""


@dataclass(frozen=True)
class RowMisfits:
    """How far single volts readings lie from the fit; arrays of shape (n,)."""

    index: NDArray[np.int64]
    """Places in the volts readings that were handed in, rising."""
    residual: Floats
    """Volts off the fit."""


@dataclass(frozen=True)
class LagEstimate:
    """The lag, as far as the run shows it."""

    lag_s: float
    u_s: float
    """Standard uncertainty; the prior's where the run shows nothing."""
    determined: bool
    rivals_s: tuple[float, ...] = ()
    """Other shifts that fit about as well."""
    one_way: bool = False
    """The speed moved, but one way only: there a lag and an offset look alike."""
    misfits: RowMisfits | None = field(default=None, compare=False, repr=False)
    """By which the ways a tach may average are held against each other."""


def estimate_lag(
    table: RevolutionTable,
    volts_t: Floats,
    volts: Floats,
    *,
    window_s: float,
    prior: LagPrior,
    resolution_v: float = 0.0,
) -> LagEstimate:
    """Estimate the lag of a run.

    Args:
        table: revolutions from the speed readings that count.
        volts_t: placed times of the volts readings that count, seconds, shape (n,).
        volts: their values, no NaN, shape (n,).
        window_s: the meter's averaging window.
        prior: what the cards say, and how far to search.
        resolution_v: the meter's last digit.
    """
    unknown = LagEstimate(prior.centre_s, prior.u_s, determined=False)
    typical_v = float(np.median(np.abs(volts))) if len(volts) else 0.0
    if len(volts) < LEAST_ROWS or typical_v <= 10.0 * resolution_v:
        return unknown  # too few, or dead volts that follow nothing
    rise = rise_around(volts_t, volts, 1.25 * max(window_s, float(np.median(np.diff(volts_t)))))
    chosen = _informative(table, volts_t, window_s, prior)
    volts_t, volts = volts_t[chosen], volts[chosen]
    u_offset = max(0.003 * typical_v + 3.0 * resolution_v, 1e-6)
    problem = LagProblem(table, volts_t, volts, rise[chosen], window_s, prior, u_offset, resolution_v)
    fits = [fit for fit in map(problem.refine, _starts(problem)) if fit is not None]
    if not fits:
        return unknown
    # Shifts that overlap more rows must not win by their number: all are weighed as if they had the least.
    worth = min(f.rows_worth for f in fits)
    first = min(fits, key=lambda f: worth * f.log_misfit + f.away)
    if first.strength < _least_strength(prior, window_s):
        return unknown  # the two slopes agree no more than by chance
    fit = problem.polish(first)
    if fit is None or _one_way(problem.rise_v_s):
        # One ramp: what the fit says of the lag is what it was told of the offset.
        ramp = _ramp(table, volts_t - first.lag_s + 0.5 * window_s, window_s)
        return LagEstimate(prior.centre_s, prior.u_s, determined=False, one_way=ramp)
    determined = fit.u_s <= _SEEN_S and fit.u_s < prior.u_s / 3.0
    rivals = _rivals(first, [f for f in fits if _within(f, prior)])
    known = np.isfinite(fit.residual)
    misfits = RowMisfits(chosen[known], fit.residual[known])
    if rivals:
        # Nothing tells them apart, so none is found: the one nearest to what was expected stands in.
        shifts = sorted({fit.lag_s, *rivals}, key=lambda lag: abs(lag - prior.centre_s))
        return LagEstimate(shifts[0], fit.u_s, determined, tuple(sorted(shifts[1:])), misfits=misfits)
    return LagEstimate(fit.lag_s, fit.u_s, determined, misfits=misfits)


def _one_way(rise_v_s: Floats) -> bool:
    """Nearly all the movement of the volts goes one way."""
    up = float(np.sum(np.square(np.maximum(rise_v_s, 0.0))))
    down = float(np.sum(np.square(np.minimum(rise_v_s, 0.0))))
    return min(up, down) < _OTHER_WAY * (up + down)


def _ramp(table: RevolutionTable, ends_s: Floats, window_s: float) -> bool:
    """The speed too moves, and one way: volts that fall by themselves are no ramp of the engine."""
    means = table.window_means(ends_s, window_s)
    rpm = means.speed_rpm[np.isfinite(means.speed_rpm)]
    moved = len(rpm) > 0 and float(np.ptp(rpm)) > _MOVED * float(np.median(rpm))
    return moved and _one_way(np.nan_to_num(means.slope_rpm_s))


def _least_strength(prior: LagPrior, window_s: float) -> float:
    """Agreement to ask for: the best of so many windows agrees by chance as much as sqrt(2 ln windows)."""
    windows = max((prior.high_s - prior.low_s) / window_s, 2.0)
    return 2.5 + float(np.sqrt(2.0 * np.log(windows)))


def _within(fit: LagFit, prior: LagPrior) -> bool:
    """A shift at the very edge of the search is where the search ended, and no minimum."""
    return prior.low_s + _EDGE_S < fit.lag_s < prior.high_s - _EDGE_S


def _rivals(best: LagFit, fits: list[LagFit]) -> tuple[float, ...]:
    """Shifts well apart from the best whose residuals are hardly larger, or that throw fewer readings away.

    A shift under which much of both logs meets nothing has little left to
    contradict it: against one that uses more of them it is no clear winner.
    """
    apart = [f for f in fits if abs(f.lag_s - best.lag_s) > 4.0 * max(f.u_s, best.u_s) + 0.02]
    near = sorted(f.lag_s for f in apart if f.log_misfit < best.log_misfit + _allowed(best, f))
    # Two starts may have ended in one minimum.
    return tuple(lag for i, lag in enumerate(near) if i == 0 or lag - near[i - 1] > _SAME_S)


def _allowed(best: LagFit, other: LagFit) -> float:
    used, more = (int(np.isfinite(f.residual).sum()) for f in (best, other))
    return _LEAVES_MORE if more > _MORE_ROWS * used else _ABOUT_AS_WELL


def _starts(problem: LagProblem) -> list[float]:
    """Shifts from which the search goes on, a few of the lowest minima on a grid."""
    prior, rows = problem.prior, len(problem.volts)
    grid = np.arange(prior.low_s, prior.high_s + 1e-9, _step(problem.window_s))
    streams = problem.table, problem.volts_t, problem.volts, problem.window_s
    if len(grid) * rows > _TRIED_ONE_BY_ONE:
        grid = grid[promising_shifts(*streams, grid, _least_rows(rows))]
    costs = _costs(*streams, grid)
    return sorted({s for cost in costs for s in _best_starts(grid, cost, prior, rows)})


def _least_rows(rows: int) -> float:
    return max(LEAST_ROWS, 0.3 * rows)


def _step(window_s: float) -> float:
    return min(0.1, max(0.02, 0.15 * window_s))


def _informative(
    table: RevolutionTable, volts_t: Floats, window_s: float, prior: LagPrior
) -> NDArray[np.int64]:
    """Which readings to use: when there are very many, those that say most of the lag."""
    if len(volts_t) <= _ROWS:
        return np.arange(len(volts_t))
    means = table.window_means(volts_t - prior.centre_s + 0.5 * window_s, window_s)
    slope = np.nan_to_num(np.abs(means.slope_rpm_s))
    steepest = np.argpartition(slope, -_ROWS // 2)[-_ROWS // 2 :]
    spread = np.linspace(0, len(volts_t) - 1, _ROWS // 2).astype(np.int64)
    return np.union1d(steepest, spread)


def _costs(table: RevolutionTable, volts_t: Floats, volts: Floats, window_s: float, grid: Floats) -> Floats:
    """Mean square departure at each shift from proportion, from a straight line and from a proportion that drifts.

    Shape (3, len(grid)); infinite where too few rows are known.
    """
    cost, course = np.full((3, len(grid)), np.inf), drift_course(volts_t)
    block = max(1, 8_000 // len(volts))
    least = _least_rows(len(volts))
    for a in range(0, len(grid), block):
        lags = grid[a : a + block]
        ends = volts_t[None, :] - lags[:, None] + 0.5 * window_s
        speed = table.window_means(ends, window_s).speed_rpm
        known = np.isfinite(speed)
        n = np.where(known, speed, 0.0)
        v = np.where(known, volts[None, :], 0.0)
        count = known.sum(axis=1)
        nn, nv, vv = (n * n).sum(axis=1), (n * v).sum(axis=1), (v * v).sum(axis=1)
        enough = (count >= least) & (nn > 0.0)
        total = np.maximum(count, 1)
        through_zero = vv - np.divide(nv * nv, nn, out=np.zeros_like(nv), where=nn > 0.0)
        n_sum, v_sum = n.sum(axis=1), v.sum(axis=1)
        snn, snv, svv = nn - n_sum**2 / total, nv - n_sum * v_sum / total, vv - v_sum**2 / total
        line = svv - np.divide(snv * snv, snn, out=np.zeros_like(snv), where=snn > 0.0)
        for row, square in enumerate((through_zero, line, squares_beside_drift(n, v, course))):
            cost[row, a : a + block] = np.where(enough, np.maximum(square, 0.0) / total, np.inf)
    return cost


def _best_starts(grid: Floats, cost: Floats, prior: LagPrior, rows: int) -> list[float]:
    """Local minima worth refining: at most four, the lowest first."""
    if not bool(np.any(np.isfinite(cost))):
        return []
    floor = float(np.min(cost[np.isfinite(cost)]))
    score = rows * np.log(np.maximum(cost, 1e-30) / max(floor, 1e-30))
    score = score + np.square((grid - prior.centre_s) / prior.u_s)
    inner = np.isfinite(score)
    padded = np.concatenate(([np.inf], score, [np.inf]))
    low = inner & (padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:])
    places = np.flatnonzero(low)
    order = places[np.argsort(score[places])][:4]
    return [float(grid[i]) for i in order]
