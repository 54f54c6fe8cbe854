"""Brings a guess of the lag to its best value, and says how well the run shows it.

Two stages. Gauss-Newton on a biweight finds the minimum near a guess. Then the
equation of the lag alone is solved once more with an instrument in the place of
its derivative: the rise of the *volts* from the readings before to those after
each. The speed's own slope carries the tach's noise, the same noise that sits
in the residual; taken as the derivative it would pull the lag to where the
interpolation smooths best, and pure noise would look like knowledge. The volts'
rise shares no noise with the residual, so the estimate is not pulled, and at
steady speed the two slopes agree no more than by chance: then nothing is seen.
(Instrumental variables; Reiersøl 1945, Sargan 1958, from memory.)
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from daq.align.drifting import drift_course
from daq.align.revolution_table import RevolutionTable
from daq.align.scatter import correlation_time, robust_sd

__all__ = ["LEAST_ROWS", "LagFit", "LagPrior", "LagProblem", "rise_around"]

Floats = NDArray[np.float64]

LEAST_ROWS = 8
_BEND = 0.1
"""Prior width of the bend: share of the output by which twice or none of the middle speed may depart."""
_DRIFT = (0.05, 0.03)
"""Prior widths of a drift from the middle of the run to its end, and of its curve: shares of the output."""
_DRIFT_PER_S = 0.002
"""No more than this share a second: what warms takes its time (judgement, common practice, no source)."""
_BIWEIGHT = 4.685
_SPIKE = 30.0
"""Residuals beyond so many robust standard deviations are spikes, whatever the model."""
_LONGEST_MOVE_S = 0.25
_CLOSE_S = 2e-5
"""A step shorter than this ends the search."""


@dataclass(frozen=True)
class LagPrior:
    """What is known of the lag before the run is looked at."""

    centre_s: float = 0.0
    u_s: float = 0.6
    low_s: float = -2.0
    high_s: float = 3.0


@dataclass(frozen=True)
class _Guess:
    lag_s: float
    k: float = float("nan")
    b: float = 0.0
    bend: float = 0.0
    drift: float = 0.0
    curve: float = 0.0


@dataclass(frozen=True)
class LagFit:
    """One minimum."""

    guess: _Guess
    u_s: float
    log_misfit: float
    """Logarithm of the mean square residual over that of the volts."""
    rows_worth: float
    """Independent rows the fit rests on."""
    away: float
    """Square of the distance from the prior's centre, in its widths."""
    residual: Floats
    """Of each row, V, spikes clipped; NaN where the row is not known; shape of the volts."""
    strength: float
    """How far the slopes of volts and speed agree beyond chance, in standard deviations."""

    @property
    def lag_s(self) -> float:
        """The shift."""
        return self.guess.lag_s


def rise_around(volts_t: Floats, volts: Floats, reach_s: float) -> Floats:
    """Rise of the volts at each reading, V/s, from its neighbours within reach and without itself, shape (n,).

    0 where a side has no neighbour.
    """
    n = len(volts)
    index = np.arange(n)
    first = np.searchsorted(volts_t, volts_t - reach_s, side="left")
    last = np.searchsorted(volts_t, volts_t + reach_s, side="right")
    both = (first < index) & (last > index + 1)
    before, after = np.maximum(index - first, 1), np.maximum(last - index - 1, 1)
    # Around the means, so that the running sums keep their digits.
    sums = [np.concatenate(([0.0], np.cumsum(x - np.mean(x)))) for x in (volts_t, volts)]
    run, rise = [(s[last] - s[index + 1]) / after - (s[index] - s[first]) / before for s in sums]
    rate: Floats = np.divide(rise, run, out=np.zeros(n), where=both & (run > 0.0))
    return rate


@dataclass(frozen=True)
class LagProblem:
    """Model V(t) = k · n(t − L) + b + bend · (n/n_middle − 1)² + a drift, and what is known beforehand.

    The drift is slow and in proportion to the speed, as of a winding that gets hot: V_typical · n/n_middle ·
    (drift · τ + curve · (τ² − 1/3)), with τ the time from −1 at the first reading to 1 at the last.
    """

    table: RevolutionTable
    volts_t: Floats
    volts: Floats
    rise_v_s: Floats
    """From :func:`rise_around`."""
    window_s: float
    prior: LagPrior
    u_offset_v: float
    resolution_v: float

    @cached_property
    def prior_weights(self) -> Floats:
        """What is known beforehand of k, b, bend, L, drift and its curve, as 1/u²; 0 where nothing."""
        half_s = 0.5 * float(self.volts_t[-1] - self.volts_t[0])
        drift, curve = (min(u, _DRIFT_PER_S * half_s) for u in _DRIFT)
        widths = (self.u_offset_v, _BEND * self._typical_v, self.prior.u_s, drift, curve)
        return np.array([0.0, *(max(u, 1e-9) ** -2 for u in widths)])

    @cached_property
    def _typical_v(self) -> float:
        return float(np.median(np.abs(self.volts)))

    @cached_property
    def _course(self) -> Floats:
        """The drift and its curve over the run, for each volts reading; shape (2, n)."""
        return drift_course(self.volts_t)

    def refine(self, start_s: float) -> LagFit | None:
        """The minimum near a start; None where too few rows are known."""
        rows = self._rows(_Guess(start_s))
        if rows is None:
            return None
        rows = replace(rows, weight=np.ones_like(rows.weight))
        for _ in range(12):
            guess = self._next(rows, rows.jacobian)
            moved = abs(guess.lag_s - rows.guess.lag_s) if guess is not None else 0.0
            further = self._rows(guess) if guess is not None else None
            if further is None:
                return None
            rows = further
            if moved < _CLOSE_S:
                break
        return self._described(rows, rows.jacobian)

    def polish(self, fit: LagFit) -> LagFit | None:
        """The same minimum with the volts' rise for the speed's slope; None where that does not settle."""
        rows = self._rows(fit.guess)
        for _ in range(8):
            guess = self._next(rows, rows.with_rise) if rows is not None else None
            if guess is None or rows is None:
                return None
            moved = abs(guess.lag_s - rows.guess.lag_s)
            rows = self._rows(guess)
            if moved < _CLOSE_S:
                break
        far = rows is None or abs(rows.guess.lag_s - fit.lag_s) > _LONGEST_MOVE_S
        return None if far or rows is None else self._described(rows, rows.with_rise)

    def _rows(self, guess: _Guess) -> _Rows | None:
        means = self.table.window_means(self.volts_t - guess.lag_s + 0.5 * self.window_s, self.window_s)
        known = np.isfinite(means.speed_rpm)
        if int(known.sum()) < LEAST_ROWS:
            return None
        n, slope, v = means.speed_rpm[known], means.slope_rpm_s[known], self.volts[known]
        if not np.isfinite(guess.k):
            guess = replace(guess, k=float(n @ v) / float(n @ n))
        middle = float(np.median(n))
        if not middle > 0.0:  # the engine stood for most of the run: there is nothing to shift
            return None
        off = n / middle - 1.0
        drifts = self._course[:, known] * (self._typical_v / middle)
        drifted = guess.drift * drifts[0] + guess.curve * drifts[1]
        residual = v - (guess.k + drifted) * n - guess.b - guess.bend * off * off
        sd = max(robust_sd(residual), 0.3 * self.resolution_v, 1e-9 * float(np.max(np.abs(v))), 1e-12)
        weight = np.square(np.clip(1.0 - np.square(residual / (_BIWEIGHT * sd)), 0.0, None))
        steepness = guess.k + drifted + 2.0 * guess.bend / middle * off
        jacobian = np.stack((n, np.ones_like(n), off * off, -steepness * slope, *(drifts * n)), axis=1)
        # Correlated residuals carry less than their number: widen the scatter by the correlation time.
        repeats = correlation_time(residual)
        # A spike in the volts makes its neighbours rise as no engine can: held to what the speed allows.
        most = 3.0 * np.abs(jacobian[:, 3]) + 3.0 * sd / self.window_s
        rise = np.clip(self.rise_v_s[known], -most, most)
        return _Rows(guess, jacobian, residual, weight, rise, v, sd, repeats, known)

    def _next(self, rows: _Rows, instruments: Floats) -> _Guess | None:
        guess, held = rows.guess, self.prior_weights
        weighted = instruments * (rows.weight / rows.variance)[:, None]
        away = guess.lag_s - self.prior.centre_s
        now = np.array([0.0, guess.b, guess.bend, away, guess.drift, guess.curve])
        try:
            k, b, bend, move, drift, curve = np.linalg.solve(
                weighted.T @ rows.jacobian + np.diag(held), weighted.T @ rows.residual - held * now
            ).tolist()
        except np.linalg.LinAlgError:
            return None
        lag = guess.lag_s + min(max(move, -_LONGEST_MOVE_S), _LONGEST_MOVE_S)
        lag = min(max(lag, self.prior.low_s), self.prior.high_s)
        return _Guess(
            lag, guess.k + k, guess.b + b, guess.bend + bend, guess.drift + drift, guess.curve + curve
        )

    def _described(self, rows: _Rows, instruments: Floats) -> LagFit:
        # A reading given up as an outlier still counts, as one at the bound: else a shift that gives up all the
        # readings on steps, and fits the quiet ones, would look like the best.
        bound = (_BIWEIGHT * rows.sd) ** 2
        misfit = max(float(np.mean(np.minimum(rows.residual**2, bound))), 1e-30) / float(
            np.mean(rows.volts**2)
        )
        away = ((rows.guess.lag_s - self.prior.centre_s) / self.prior.u_s) ** 2
        # Not the robust width: where a tach's model is wrong shows in the few rows on a change of throttle.
        clipped = np.clip(rows.residual, -_SPIKE * rows.sd, _SPIKE * rows.sd)
        residual = np.full(len(self.volts), np.nan)
        residual[rows.known] = clipped
        u = min(self._uncertainty(rows, instruments), self.prior.u_s)
        worth = len(rows.volts) / rows.repeats
        return LagFit(rows.guess, u, float(np.log(misfit)), worth, away, residual, _strength(rows))

    def _uncertainty(self, rows: _Rows, instruments: Floats) -> float:
        """The larger of two: scatter as one number, and each reading's own residual (White's, HC3).

        Beside it what the readings say that were given up: where most of those on a change of throttle lie off,
        those that are left agree by chance, and the lag is known no better than by all of them.
        """
        share = rows.weight / rows.variance
        found = self._pulls(rows, instruments, share, rows.residual)
        if found is None:
            return self.prior.u_s
        inverse, pulls = found
        weighted = instruments * share[:, None]
        plain = inverse @ (weighted.T @ instruments + np.diag(self.prior_weights)) @ inverse.T
        # What neighbours pull the same way is not one reading's own scatter.
        white = float(pulls @ pulls) * correlation_time(pulls)
        return float(np.sqrt(max(plain[3, 3], white) + self._given_up(rows, instruments)))

    def _given_up(self, rows: _Rows, instruments: Floats) -> float:
        """Variance of the lag by all readings alike, times the share of what tells it that was given up."""
        telling = np.square(rows.jacobian[:, 3])
        whole = float(telling.sum())
        lost = 1.0 - float(rows.weight @ telling) / whole if whole > 0.0 else 0.0
        clipped = np.clip(rows.residual, -_SPIKE * rows.sd, _SPIKE * rows.sd)
        found = self._pulls(rows, instruments, np.full(len(clipped), 1.0 / rows.variance), clipped)
        return 0.0 if found is None else lost * float(found[1] @ found[1])

    def _pulls(
        self, rows: _Rows, instruments: Floats, share: Floats, residual: Floats
    ) -> tuple[Floats, Floats] | None:
        """The inverse of the normal matrix, and how far each reading's residual pulls the lag (HC3), shape (n,)."""
        weighted = instruments * share[:, None]
        normal = weighted.T @ rows.jacobian + np.diag(self.prior_weights)
        try:
            inverse = np.asarray(np.linalg.inv(normal), dtype=np.float64)
        except np.linalg.LinAlgError:
            return None
        hat = np.sum((rows.jacobian @ inverse) * instruments, axis=1) * share
        scores = weighted * (residual / np.clip(1.0 - hat, 0.2, 1.0))[:, None]
        return inverse, np.asarray(scores @ inverse[3])


@dataclass(frozen=True)
class _Rows:
    """Rows known at a lag; arrays of shape (n,), the Jacobian of shape (n, 6)."""

    guess: _Guess
    jacobian: Floats
    residual: Floats
    weight: Floats
    rise_v_s: Floats
    volts: Floats
    sd: float
    repeats: float
    known: NDArray[np.bool_]
    """Which of the problem's rows these are."""

    @property
    def with_rise(self) -> Floats:
        """The Jacobian with the volts' rise in the place of the speed's slope, shape (n, 6)."""
        return np.column_stack((self.jacobian[:, :3], -self.rise_v_s, self.jacobian[:, 4:]))

    @property
    def variance(self) -> float:
        return self.sd**2 * self.repeats


def _strength(rows: _Rows) -> float:
    """Fisher's z of the correlation between the two slopes; neighbours overlap, so half the rows count."""
    slope, rise, weight = -rows.jacobian[:, 3], rows.rise_v_s, rows.weight
    norm: float = float(weight @ slope**2) * float(weight @ rise**2)
    if norm <= 0.0:
        return 0.0
    r = float(np.clip(float(weight @ (slope * rise)) / float(np.sqrt(norm)), -0.999999, 0.999999))
    rows_that_count = max(0.5 * float(np.sum(weight > 0.0)) - 3.0, 0.0)
    return float(np.arctanh(r) * np.sqrt(rows_that_count))
