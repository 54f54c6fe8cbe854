"""Where to look for the shift of two long logs: sums of products at every shift at once, by Fourier transforms.

Trying each shift by itself costs readings times shifts, which grows with the square of the logs' length. On an
even grid all the sums that proportion, a straight line and a proportion that drifts need are correlations of two
series, and a transform gives them for all shifts together (the correlation theorem). The readings' places are
rounded to the grid for it, so what comes out says where to look and no more.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.drifting import drift_course
from daq.align.revolution_table import RevolutionTable

__all__ = ["promising_shifts"]

Floats = NDArray[np.float64]

_MINIMA = 40
"""So many of the lowest minima of each kind are looked at closely; the closest look then keeps four."""
_AROUND = 2
"""Grid points to both sides that come along."""
_RIDGE = 1e-9


def promising_shifts(
    table: RevolutionTable, volts_t: Floats, volts: Floats, window_s: float, grid: Floats, least: float
) -> NDArray[np.bool_]:
    """Which shifts of an even grid may hold a minimum that is worth a closer look; shape (len(grid),).

    Args:
        table: revolutions from the speed readings that count.
        volts_t: times of the volts readings that count, seconds, rising, shape (n,).
        volts: their values, shape (n,).
        window_s: the meter's averaging window.
        grid: shifts, seconds, evenly spaced, rising.
        least: readings that must meet a known speed.
    """
    step = float(grid[1] - grid[0])
    cell = np.rint((volts_t - volts_t[0]) / step).astype(np.int64)
    cells, shifts = int(cell[-1]) + 1, len(grid)
    middles = volts_t[0] - grid[-1] + step * np.arange(cells + shifts - 1)
    speed = table.window_means(middles + 0.5 * window_s, window_s).speed_rpm
    known = np.isfinite(speed)
    n = np.where(known, speed, 0.0)
    scale = float(np.sqrt(np.mean(np.square(n[known])))) if bool(known.any()) else 1.0
    sums = _Sums(cell, cells, shifts, np.stack((known.astype(np.float64), n / scale, np.square(n / scale))))
    chosen = np.zeros(shifts, dtype=np.bool_)
    for cost in _costs(sums, volts, drift_course(volts_t), least):
        for place in _lowest_minima(cost):
            chosen[max(0, place - _AROUND) : place + _AROUND + 1] = True
    return chosen


class _Sums:
    """Sums over the readings of a weight times a function of the speed, at every shift."""

    def __init__(self, cell: NDArray[np.int64], cells: int, shifts: int, functions: Floats) -> None:
        self._cell, self._cells, self._shifts = cell, cells, shifts
        self._size = 1 << (cells + shifts - 1).bit_length()
        self._spectra = np.fft.rfft(functions, self._size, axis=1)

    def of(self, weight: Floats, power: int) -> Floats:
        """Sum of weight times speed to that power, 0 to 2, over the readings whose speed is known."""
        binned = np.bincount(self._cell, weights=weight, minlength=self._cells)
        product = np.conj(np.fft.rfft(binned, self._size)) * self._spectra[power]
        # The last shift moves the readings least along the series.
        return np.asarray(np.fft.irfft(product, self._size)[: self._shifts][::-1])


def _costs(sums: _Sums, volts: Floats, course: Floats, least: float) -> tuple[Floats, Floats, Floats]:
    """Mean squares left by proportion, by a line and by a proportion that drifts; infinite where too few meet."""
    one = np.ones_like(volts)
    count = sums.of(one, 0)
    nn, nv, vv = sums.of(one, 2), sums.of(volts, 1), sums.of(np.square(volts), 0)
    n, v = sums.of(one, 1), sums.of(volts, 0)
    total = np.maximum(count, 1.0)
    enough = count >= least - 0.5

    def mean_left(squares: Floats) -> Floats:
        return np.asarray(np.where(enough, np.maximum(squares, 0.0) / total, np.inf))

    snn, snv, svv = nn - n**2 / total, nv - n * v / total, vv - v**2 / total
    drifting = vv - _taken_beside_drift(sums, volts, course, enough)
    return mean_left(vv - _ratio(nv**2, nn)), mean_left(svv - _ratio(snv**2, snn)), mean_left(drifting)


def _taken_beside_drift(sums: _Sums, volts: Floats, course: Floats, enough: NDArray[np.bool_]) -> Floats:
    """Squares that V = k · n · (1 + drift) takes at each shift; see :mod:`daq.align.drifting`."""
    columns = [np.ones_like(volts), *course]
    normal = np.empty((len(enough), 3, 3))
    right = np.empty((len(enough), 3))
    for i, a in enumerate(columns):
        right[:, i] = sums.of(a * volts, 1)
        for j in range(i, 3):
            normal[:, i, j] = normal[:, j, i] = sums.of(a * columns[j], 2)
    normal += _RIDGE * normal[:, :1, :1] * np.eye(3)
    taken = np.zeros(len(enough))
    usable = enough & (normal[:, 0, 0] > 0.0)
    if bool(usable.any()):
        solved = np.linalg.solve(normal[usable], right[usable][..., None])[..., 0]
        taken[usable] = np.sum(solved * right[usable], axis=1)
    return taken


def _ratio(above: Floats, below: Floats) -> Floats:
    return np.divide(above, below, out=np.zeros_like(above), where=below > 0.0)


def _lowest_minima(cost: Floats) -> list[int]:
    padded = np.concatenate(([np.inf], cost, [np.inf]))
    low = np.isfinite(cost) & (padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:])
    places = np.flatnonzero(low)
    return [int(place) for place in places[np.argsort(cost[places])][:_MINIMA]]
