"""Quantities read together: how far they move together, and what that does to what is worked out of them.

Volts and speed of a run are read together: while the engine hunts, both go up
and down, and their quotient scatters far less than the two alone would let it.
Uncertainty of means and their correlation: JCGM 100:2008, 4.2.3 and 5.2.3;
several results worked out of the same inputs: 5.2.2, eq. (13), and H.2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Means", "Together", "means_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Together:
    """Standard uncertainties, shape (k,), and the correlations between them, shape (k, k)."""

    u: Floats
    correlation: Floats

    def through(self, sensitivities: Floats) -> Together:
        """Uncertainties and correlations of results worked out of these.

        Args:
            sensitivities: what one unit of each input does to each result, shape (results, k).
        """
        covariance = sensitivities @ (self.correlation * np.outer(self.u, self.u)) @ sensitivities.T
        u = np.sqrt(np.maximum(np.diag(covariance), 0.0))
        return Together(u, _over(covariance, np.outer(u, u)))

    @property
    def unrelated(self) -> Together:
        """The same uncertainties as if nothing linked them."""
        return Together(self.u, np.eye(len(self.u)))


@dataclass(frozen=True)
class Means:
    """Means of quantities read together."""

    value: Floats
    """Shape (k,)."""
    known: Together
    """The means' standard uncertainties, s/√n, and the correlations of the quantities."""
    sets: int


def means_of(*columns: Floats) -> Means:
    """Means over sets of readings, one set a moment.

    Args:
        columns: readings of each quantity, all of shape (n,), n >= 2, no NaN; else ValueError.
    """
    rows = np.stack(columns)
    sets = rows.shape[1]
    if sets < 2:
        raise ValueError(f"a scatter needs two sets of readings, got {sets}")
    off = rows - rows.mean(axis=1)[:, None]
    covariance = off @ off.T / (sets - 1)
    spread = np.sqrt(np.diag(covariance))
    return Means(
        rows.mean(axis=1), Together(spread / np.sqrt(sets), _over(covariance, np.outer(spread, spread))), sets
    )


def _over(covariance: Floats, scale: Floats) -> Floats:
    """Correlations; what does not scatter is linked to nothing but itself."""
    return np.divide(covariance, scale, out=np.eye(len(scale)), where=scale > 0.0)
