"""How much later the volts arrive than the speed: the shift that brings the two nearest to proportion.

Model: V(t) = k · n(t − L) + b + a bend, with n the mean speed over the meter's
window. k is free. b is held near zero by a prior as wide as a meter's zero
error and the bend (a parabola around the middle speed) by one of a few percent,
because on one ramp up they and a lag look the same; on a sweep up and down they
do not. L has a prior from the instruments' cards. The scatter of the
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

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.revolution_table import RevolutionTable
from daq.align.scatter import correlation_time, robust_sd

__all__ = ["LagEstimate", "LagPrior", "estimate_lag"]

Floats = NDArray[np.float64]

_ROWS = 3000
"""At most so many volts readings are used; those where the speed moves most, and as many spread evenly."""
_LEAST_ROWS = 8
_BEND = 0.1
"""Prior width of the bend: share of the output by which twice or none of the middle speed may depart."""
_SEEN_S = 0.12
"""A lag known no better than this is not called known."""


@dataclass(frozen=True)
class LagPrior:
    """What is known of the lag before the run is looked at."""

    centre_s: float = 0.0
    u_s: float = 0.6
    low_s: float = -2.0
    high_s: float = 3.0


@dataclass(frozen=True)
class LagEstimate:
    """The lag, as far as the run shows it."""

    lag_s: float
    u_s: float
    """Standard uncertainty; the prior's where the run shows nothing."""
    determined: bool
    rivals_s: tuple[float, ...] = ()
    """Other shifts that fit about as well."""
    relative_residual: float = float("nan")
    """Robust standard deviation of the residuals over the mean volts; to compare tach models."""


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
    volts_t, volts = _informative(table, volts_t, volts, window_s, prior)
    unknown = LagEstimate(prior.centre_s, prior.u_s, determined=False)
    typical_v = float(np.median(np.abs(volts))) if len(volts) else 0.0
    if len(volts) < _LEAST_ROWS or typical_v <= 10.0 * resolution_v:
        return unknown  # too few, or dead volts that follow nothing
    grid = np.arange(prior.low_s, prior.high_s + 1e-9, _step(window_s))
    costs = _costs(table, volts_t, volts, window_s, grid)
    if not bool(np.any(np.isfinite(costs))):
        return unknown
    u_offset = 0.003 * typical_v + 3.0 * resolution_v
    problem = _Problem(table, volts_t, volts, window_s, prior, max(u_offset, 1e-6), resolution_v)
    starts = {s for cost in costs for s in _best_starts(grid, cost, prior, len(volts))}
    fits = [fit for fit in (problem.refine(start) for start in sorted(starts)) if fit is not None]
    if not fits:
        return unknown
    fit = min(fits, key=lambda f: f.objective)
    rivals = [
        f.lag_s
        for f in fits
        if abs(f.lag_s - fit.lag_s) > 4.0 * max(f.u_s, fit.u_s) + 0.02 and f.objective < fit.objective + 6.0
    ]
    determined = fit.u_s <= _SEEN_S and fit.u_s < prior.u_s / 3.0
    return LagEstimate(fit.lag_s, fit.u_s, determined, tuple(sorted(set(rivals))), fit.relative_residual)


def _step(window_s: float) -> float:
    return min(0.1, max(0.02, 0.15 * window_s))


def _informative(
    table: RevolutionTable, volts_t: Floats, volts: Floats, window_s: float, prior: LagPrior
) -> tuple[Floats, Floats]:
    """Keep the readings that say most of the lag when there are very many."""
    if len(volts) <= _ROWS:
        return volts_t, volts
    means = table.window_means(volts_t - prior.centre_s + 0.5 * window_s, window_s)
    slope = np.nan_to_num(np.abs(means.slope_rpm_s))
    steepest = np.argpartition(slope, -_ROWS // 2)[-_ROWS // 2 :]
    spread = np.linspace(0, len(volts) - 1, _ROWS // 2).astype(np.int64)
    chosen = np.union1d(steepest, spread)
    return volts_t[chosen], volts[chosen]


def _costs(table: RevolutionTable, volts_t: Floats, volts: Floats, window_s: float, grid: Floats) -> Floats:
    """Mean square departure at each shift from proportion and from a straight line, shape (2, len(grid)).

    Infinite where too few rows are known.
    """
    cost = np.full((2, len(grid)), np.inf)
    block = max(1, 200_000 // len(volts))
    least = max(_LEAST_ROWS, 0.3 * len(volts))
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
        for row, square in enumerate((through_zero, line)):
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


@dataclass(frozen=True)
class _Fit:
    lag_s: float
    u_s: float
    objective: float
    relative_residual: float


@dataclass(frozen=True)
class _Problem:
    table: RevolutionTable
    volts_t: Floats
    volts: Floats
    window_s: float
    prior: LagPrior
    u_offset_v: float
    resolution_v: float

    def refine(self, start_s: float) -> _Fit | None:
        """Gauss-Newton on (k, b, bend, L) with biweight weights, from a start near the minimum."""
        lag, k, b, bend = start_s, 0.0, 0.0, 0.0
        typical_v = float(np.median(np.abs(self.volts)))
        for step in range(12):
            means = self.table.window_means(self.volts_t - lag + 0.5 * self.window_s, self.window_s)
            known = np.isfinite(means.speed_rpm)
            if int(known.sum()) < _LEAST_ROWS:
                return None
            n, slope, v = means.speed_rpm[known], means.slope_rpm_s[known], self.volts[known]
            if step == 0:
                k = float(n @ v) / float(n @ n)
                middle = float(np.median(n))
            arc = np.square(n / middle - 1.0)
            residual = v - k * n - b - bend * arc
            sd = max(robust_sd(residual), 0.3 * self.resolution_v, 1e-9 * float(np.max(np.abs(v))), 1e-12)
            weight = np.square(np.clip(1.0 - np.square(residual / (4.685 * sd)), 0.0, None))
            if step == 0:
                weight = np.ones_like(weight)
            bent = 2.0 * bend * (n / middle - 1.0) / middle
            jacobian = np.stack((n, np.ones_like(n), arc, -(k + bent) * slope), axis=1)
            # Correlated residuals carry less than their number: widen the scatter by the correlation time.
            noise = sd * np.sqrt(correlation_time(residual))
            held = ((1, b, 0.0, self.u_offset_v), (2, bend, 0.0, _BEND * typical_v), (3, lag, *self._prior))
            normal, right = _normal_equations(jacobian, weight / noise**2, residual, held)
            try:
                change = np.linalg.solve(normal, right)
            except np.linalg.LinAlgError:
                return None
            k, b, bend = k + float(change[0]), b + float(change[1]), bend + float(change[2])
            move = float(np.clip(change[3], -0.25, 0.25))
            lag = float(np.clip(lag + move, self.prior.low_s, self.prior.high_s))
            if step > 2 and abs(move) < 1e-5:
                break
        covariance = np.linalg.inv(normal)
        # White's: each reading's own residual stands for its scatter, readings with leverage widened (HC3).
        scaled = jacobian * (weight * residual / noise**2)[:, None]
        hat = np.einsum("ij,jk,ik->i", jacobian, covariance, jacobian) * weight / noise**2
        scaled = scaled / np.clip(1.0 - hat, 0.2, 1.0)[:, None]
        white = covariance @ (scaled.T @ scaled) @ covariance
        u = float(np.sqrt(min(max(covariance[3, 3], white[3, 3]), self.prior.u_s**2)))
        effective = len(v) / correlation_time(residual)
        misfit = max(float(np.mean(weight * residual**2)), 1e-30) / float(np.mean(v**2))
        objective = effective * np.log(misfit) + ((lag - self.prior.centre_s) / self.prior.u_s) ** 2
        relative = sd / max(float(np.mean(np.abs(v))), 1e-12)
        return _Fit(lag, u, float(objective), relative)

    @property
    def _prior(self) -> tuple[float, float]:
        return self.prior.centre_s, self.prior.u_s


def _normal_equations(
    jacobian: Floats,
    weight: Floats,
    residual: Floats,
    held: tuple[tuple[int, float, float, float], ...],
) -> tuple[Floats, Floats]:
    """Weighted normal equations; each of ``held`` is (parameter, value now, prior centre, prior width)."""
    weighted = jacobian * weight[:, None]
    normal = weighted.T @ jacobian
    right = weighted.T @ residual
    for i, now, centre, width in held:
        normal[i, i] += 1.0 / width**2
        right[i] += (centre - now) / width**2
    return normal, right
