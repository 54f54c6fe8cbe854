"""Judging a measured value against a limit with its uncertainty in view (JCGM 106:2012, ILAC-G8:09/2019)."""

from __future__ import annotations

from daq.model.student import normal_quantile, student_below

__all__ = ["conformance_probability", "guard_band", "interval_probability"]


def conformance_probability(
    value: float, standard_uncertainty: float, lower: float, degrees_of_freedom: float = float("inf")
) -> float:
    """Probability that the true value is at or above a lower limit (JCGM 106:2012, 7.2 and 7.3).

    Args:
        value: measured.
        standard_uncertainty: of it; 0 compares plainly.
        lower: the limit.
        degrees_of_freedom: of the uncertainty; Student's t where finite.
    """
    if standard_uncertainty == 0.0:
        return 1.0 if value >= lower else 0.0
    return _cumulative((value - lower) / standard_uncertainty, degrees_of_freedom)


def interval_probability(value: float, standard_uncertainty: float, lower: float, upper: float) -> float:
    """Probability that the true value lies between two limits, normal distribution (JCGM 106:2012, 7.4)."""
    above = _cumulative((value - lower) / standard_uncertainty, float("inf"))
    return above - _cumulative((value - upper) / standard_uncertainty, float("inf"))


def guard_band(standard_uncertainty: float, probability: float) -> float:
    """Distance from the limit at which the one-sided conformance probability is reached: z · u."""
    return normal_quantile(probability) * standard_uncertainty


def _cumulative(z: float, degrees_of_freedom: float) -> float:
    return student_below(degrees_of_freedom, z)
