"""The uncertainty budget: contributions, their combination, and the coverage factor.

Combined standard uncertainty and effective degrees of freedom follow JCGM
100:2008, 5.1.2 and G.4.1 (Welch-Satterthwaite). The coverage factor is that of
the mixture the contributions really make: where one rectangular limit rules,
as a meter's accuracy does, 1.96 would promise too much width and 1.65 is right
(EA-4/02 M, S9). The mixture's distribution comes from the product of the
contributions' characteristic functions, as the Fourier series of its density;
the degrees of freedom come in through Student's t.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from daq.model.student import normal_quantile, student_quantile

__all__ = ["Contribution", "Distribution", "UncertaintyBudget", "combine", "student_factor"]

Distribution = Literal["normal", "rectangular", "triangular", "arcsine"]

_NOTHING = 1e-19
"""Of a probability; harmonics that weigh less add nothing."""
_START = 1.8
"""Where the search for a coverage factor begins."""
_EXACT = 1e-14
_DIVISOR = {"rectangular": 3.0**0.5, "triangular": 6.0**0.5, "arcsine": 2.0**0.5}


@dataclass(frozen=True)
class Contribution:
    """One line of the budget.

    Attributes:
        name: in plain words.
        standard_uncertainty: in the unit of the input.
        distribution: of the input.
        sensitivity: what one unit of the input does to the output.
        degrees_of_freedom: infinity where the input's width is taken as known.
        unit: of the input.
    """

    name: str
    standard_uncertainty: float
    distribution: Distribution = "normal"
    sensitivity: float = 1.0
    degrees_of_freedom: float = float("inf")
    unit: str = "V"

    @classmethod
    def from_limits(
        cls,
        name: str,
        half_width: float,
        distribution: Literal["rectangular", "triangular", "arcsine"] = "rectangular",
        *,
        sensitivity: float = 1.0,
        unit: str = "V",
    ) -> Contribution:
        """A contribution known by limits ±a: u = a/√3, a/√6 or a/√2 (JCGM 100:2008, 4.3.7, 4.3.9)."""
        u = half_width / _DIVISOR[distribution]
        return cls(name, u, distribution, sensitivity, unit=unit)

    @property
    def output_uncertainty(self) -> float:
        """|sensitivity| x standard uncertainty, in the unit of the output."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True)
class UncertaintyBudget:
    """Contributions and what they come to."""

    contributions: tuple[Contribution, ...]
    standard_uncertainty: float
    effective_degrees_of_freedom: float
    coverage_factor: float
    coverage_probability: float
    notes: tuple[str, ...] = ()
    """Sentences about the contributions, for who looks into the budget."""

    @property
    def expanded_uncertainty(self) -> float:
        """Coverage factor x combined standard uncertainty."""
        return self.coverage_factor * self.standard_uncertainty

    @property
    def largest(self) -> Contribution | None:
        """The contribution that rules; None where all are zero."""
        ranked = max(self.contributions, key=lambda c: c.output_uncertainty, default=None)
        return ranked if ranked is not None and ranked.output_uncertainty > 0.0 else None


def combine(contributions: Sequence[Contribution], probability: float = 0.95) -> UncertaintyBudget:
    """Combine uncorrelated contributions.

    Args:
        contributions: the inputs.
        probability: coverage probability of the expanded uncertainty, between 0 and 1.
    """
    parts = np.array([c.output_uncertainty for c in contributions])
    total = float(np.sqrt(np.square(parts).sum()))
    if total == 0.0:
        return UncertaintyBudget(tuple(contributions), 0.0, float("inf"), 0.0, probability)
    freedom = _welch_satterthwaite(parts, [c.degrees_of_freedom for c in contributions], total)
    shape = _coverage_of_shape(contributions, total, probability)
    factor = shape * student_factor(freedom, probability) / student_factor(float("inf"), probability)
    return UncertaintyBudget(tuple(contributions), total, freedom, factor, probability)


def student_factor(degrees_of_freedom: float, probability: float) -> float:
    """Two-sided factor of Student's t (JCGM 100:2008, table G.2); the normal one where infinite."""
    upper = 0.5 * (1.0 + probability)
    if not np.isfinite(degrees_of_freedom) or degrees_of_freedom > 1e7:
        return normal_quantile(upper)
    return student_quantile(max(degrees_of_freedom, 1.0), upper)


def _welch_satterthwaite(parts: NDArray[np.float64], freedoms: Sequence[float], total: float) -> float:
    terms = sum((u / total) ** 4 / f for u, f in zip(parts, freedoms, strict=True) if np.isfinite(f))
    return 1.0 / float(terms) if terms > 0.0 else float("inf")


def _coverage_of_shape(contributions: Sequence[Contribution], total: float, probability: float) -> float:
    """Half width of the central interval over the standard uncertainty, degrees of freedom aside."""
    shaped = [c for c in contributions if c.distribution != "normal" and c.output_uncertainty > 0.0]
    if not shaped:
        return student_factor(float("inf"), probability)
    normal = sum(c.output_uncertainty**2 for c in contributions if c.distribution == "normal") / total**2
    limits = [(c.distribution, c.output_uncertainty * _DIVISOR[c.distribution] / total) for c in shaped]
    if len(limits) == 1 and normal == 0.0 and limits[0][0] == "rectangular":
        return probability * float(3.0**0.5)
    # In units of the combined standard uncertainty nothing lies beyond the sum of the limits and 8 sigma.
    reach = sum(a for _, a in limits) + 8.0 * float(np.sqrt(normal))
    period = 2.2 * reach
    harmonics = np.arange(1, 4097)
    omega = 2.0 * np.pi * harmonics / period
    phi = np.exp(-0.5 * normal * np.square(omega))
    for distribution, a in limits:
        phi = phi * _characteristic(distribution, a * omega)

    # P(|X| <= x) is the Fourier series of the density wrapped round the period, integrated from -x to x.
    weight = 4.0 * phi / (omega * period)
    told = np.abs(weight) > _NOTHING
    return _half_width(omega[told], weight[told], period, reach, probability)


def _half_width(
    omega: NDArray[np.float64], weight: NDArray[np.float64], period: float, reach: float, probability: float
) -> float:
    """Where 2x/period + Σ weight·sin(omega·x) reaches the probability, by Newton's steps inside a bracket."""
    rise = weight * omega
    low, high = 0.0, reach
    half = min(_START, 0.5 * reach)
    for _ in range(60):
        short = probability - float(2.0 * half / period + weight @ np.sin(omega * half))
        low, high = (half, high) if short > 0.0 else (low, half)
        density = float(2.0 / period + rise @ np.cos(omega * half))
        step = short / density if density > 0.0 else np.inf
        further = half + step
        before, half = half, further if low < further < high else 0.5 * (low + high)
        if abs(half - before) <= _EXACT * reach:
            break
    return half


def _characteristic(distribution: str, x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Characteristic function of a distribution on ±1 at x."""
    if distribution == "rectangular":
        return np.asarray(np.sinc(x / np.pi))
    if distribution == "triangular":
        return np.asarray(np.square(np.sinc(x / (2.0 * np.pi))))
    from scipy.special import j0

    return np.asarray(j0(x))
