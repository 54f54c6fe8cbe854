"""Straight lines through points by ordinary least squares, with and without an offset."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.rated.together import Together

__all__ = ["LineFit", "OriginFit", "fit_line", "fit_through_origin"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class OriginFit:
    """y = slope · x."""

    slope: float
    u_slope: float
    residual_sd: float
    r_squared: float
    """1 - RSS / Σy²: through the origin, the mean of y is no reference."""
    degrees_of_freedom: int


@dataclass(frozen=True)
class LineFit:
    """y = offset + slope · x; the offset refers to x = 0."""

    offset: float
    u_offset: float
    slope: float
    u_slope: float
    correlation: float
    """Between offset and slope."""
    residual_sd: float
    r_squared: float
    degrees_of_freedom: int

    def at(self, x: float) -> float:
        """The line's y at x."""
        return self.offset + self.slope * x

    def u_at(self, x: float) -> float:
        """Standard uncertainty of the line at x, with the correlation term (JCGM 100:2008, H.3.4)."""
        linked = np.array([[1.0, self.correlation], [self.correlation, 1.0]])
        known = Together(np.array([self.u_offset, self.u_slope]), linked)
        return float(known.through(np.array([[1.0, x]])).u[0])


def fit_through_origin(x: Floats, y: Floats) -> OriginFit:
    """Least squares through the origin, as volts per rpm.

    Args:
        x: shape (n,), n >= 2, not all zero; else ValueError.
        y: shape (n,).
    """
    n = len(x)
    sxx = float(x @ x)
    if n < 2 or sxx == 0.0:
        raise ValueError(f"a line through the origin needs two points away from it, got {n}")
    slope = float(x @ y) / sxx
    residual = y - slope * x
    rss, syy = float(residual @ residual), float(y @ y)
    sd = float(np.sqrt(rss / (n - 1)))
    return OriginFit(slope, sd / float(np.sqrt(sxx)), sd, 1.0 - rss / syy if syy else float("nan"), n - 1)


def fit_line(x: Floats, y: Floats) -> LineFit:
    """Least squares with an offset.

    Args:
        x: shape (n,), n >= 3, not all equal; else ValueError.
        y: shape (n,).
    """
    n = len(x)
    if n < 3 or bool(np.all(x == x[0])):
        raise ValueError(f"a line with an offset needs three points at different places, got {n}")
    # Around the means: the sums of squares of large numbers would cancel.
    mx, my = float(np.mean(x)), float(np.mean(y))
    dx, dy = x - mx, y - my
    sxx = float(dx @ dx)
    slope = float(dx @ dy) / sxx
    residual = dy - slope * dx
    rss, syy = float(residual @ residual), float(dy @ dy)
    sd = float(np.sqrt(rss / (n - 2)))
    u_slope = sd / float(np.sqrt(sxx))
    u_offset = sd * float(np.sqrt(1.0 / n + mx * mx / sxx))
    correlation = -mx / float(np.sqrt(sxx / n + mx * mx))
    r_squared = 1.0 - rss / syy if syy else float("nan")
    return LineFit(my - slope * mx, u_offset, slope, u_slope, correlation, sd, r_squared, n - 2)
