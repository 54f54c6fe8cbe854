"""Which way a tach averages, where no card says it: chosen only where the run rules the other way out.

Both ways are fitted to the same volts readings, so their residuals share most
of their noise, and a ratio of mean squares against a table of F would hardly
ever tell. What tells is how much of the step from one fit to the other the
residuals ask for: nothing of it where the first is right, all of it where the
second is (the J test of Davidson and MacKinnon, Econometrica 49, 1981; from
memory). A way is ruled out where that share lies more than 2.6 standard
uncertainties from its own. A few readings on one sharp kink, which neither way
can follow, make the share uncertain and so are no evidence.

============================== ===============================================
ruled out                      taken
============================== ===============================================
the second                     the first, as seen in the run
the first                      the second, as seen in the run
neither                        the first, with the second as its rival
both (the truth lies between)  the nearer, with the other as its rival
============================== ===============================================

What a rival would make of the rated output goes into its uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from daq.align.lag import LagEstimate, RowMisfits
from daq.align.revolutions import TachModel
from daq.align.scatter import correlation_time
from daq.model.student import student_quantile

__all__ = ["TachChoice", "choose_tach_model"]

_SURE = 2.6
"""Standard uncertainties beyond which a way is ruled out: half a percent by chance."""
_LEAST = 20


@dataclass(frozen=True)
class TachChoice:
    """The way taken."""

    model: TachModel
    lag: LagEstimate
    seen: bool = False
    """The run rules the other out."""
    rival: tuple[TachModel, LagEstimate] | None = None
    """The other way with its lag, where both fit about as well."""


def choose_tach_model(fits: dict[TachModel, LagEstimate]) -> TachChoice:
    """Choose between the ways in which a tach may average.

    Args:
        fits: the lag under each; the first is the one taken where nothing tells.
    """
    (usual, first), *others = fits.items()
    if not others:
        return TachChoice(usual, first)
    other, second = others[0]
    if not (first.determined and second.determined):
        return TachChoice(usual, first)
    share, u = _mixture(first.misfits, second.misfits)
    against_first, against_second = share > _SURE * u, 1.0 - share > _SURE * u
    if against_first and not against_second:
        return TachChoice(other, second, seen=True)
    if against_second and not against_first:
        return TachChoice(usual, first, seen=True)
    if against_first and share > 0.5:
        return TachChoice(other, second, rival=(usual, first))
    return TachChoice(usual, first, rival=(other, second))


def _mixture(first: RowMisfits | None, second: RowMisfits | None) -> tuple[float, float]:
    """How much of the second way the readings ask for, 0 to 1, with its standard uncertainty; infinite if unseen."""
    if first is None or second is None:
        return 0.0, np.inf
    _, mine, its = np.intersect1d(first.index, second.index, assume_unique=True, return_indices=True)
    residual = first.residual[mine]
    apart = residual - second.residual[its]
    power = float(apart @ apart)
    if len(mine) < _LEAST or power == 0.0:
        return 0.0, np.inf
    share = float(residual @ apart) / power
    # Each reading with its own scatter (White's, HC3): on a sharp kink both the difference and the scatter are large.
    left = (residual - share * apart) / np.clip(1.0 - np.square(apart) / power, 0.2, 1.0)
    scores = left * apart
    repeats = correlation_time(scores)
    # How many readings really tell: few where nearly all of the difference lies on one or two kinks.
    telling = power**2 / float(np.sum(np.square(apart) ** 2)) / repeats
    u = float(np.sqrt(repeats * (scores @ scores))) / power
    return share, u * _widened(telling - 1.0)


def _widened(degrees_of_freedom: float) -> float:
    """How much further Student's t reaches than the normal distribution does, at half a percent."""
    return student_quantile(max(degrees_of_freedom, 1.0), 0.995) / _SURE
