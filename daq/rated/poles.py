"""Speed, pole pairs and frequency: f = p · n / 60 (n = 120 f / P with P poles; IEC 60034-1, NEMA MG 1)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "PolePairs",
    "frequency_hz",
    "pole_pairs_from_readings",
    "radians_per_second",
    "synchronous_speed_rpm",
]


_LEAST_GAP = 0.0005


@dataclass(frozen=True)
class PolePairs:
    """What frequency and speed say of the pole pairs."""

    pole_pairs: int | None
    """None where no whole number fits."""
    ratio: float
    """60 f / n as measured, median."""
    u_ratio: float
    """Robust standard deviation of it."""
    count: int = 0
    """Readings it rests on."""

    @property
    def off(self) -> float:
        """Share by which the tach reads under the speed of the frequency, n = 60 f / p; 0 without pole pairs."""
        return self.ratio / self.pole_pairs - 1.0 if self.pole_pairs else 0.0

    def gap(self, limits: float) -> float:
        """:attr:`off` where it is beyond the limits of both instruments and the scatter, else 0.

        Args:
            limits: of tach and frequency together, as a share of the reading.
        """
        # Readings that follow each other repeat each other: a fourth of them counts.
        scatter = 6.0 * self.u_ratio / (self.ratio * np.sqrt(self.count)) if self.count else np.inf
        return self.off if abs(self.off) > max(limits + scatter, _LEAST_GAP) else 0.0


def synchronous_speed_rpm(frequency: float, poles: int) -> float:
    """Speed of a machine from its frequency, n = 120 f / P.

    Args:
        frequency: Hz.
        poles: number of poles, even and at least 2; else ValueError.
    """
    if poles < 2 or poles % 2:
        raise ValueError(f"poles come in pairs: {poles} can't be a number of poles")
    return 120.0 * frequency / poles


def frequency_hz(speed_rpm: float, poles: int) -> float:
    """Frequency of a machine from its speed, f = n P / 120: the inverse of :func:`synchronous_speed_rpm`."""
    if poles < 2 or poles % 2:
        raise ValueError(f"poles come in pairs: {poles} can't be a number of poles")
    return speed_rpm * poles / 120.0


def radians_per_second(speed_rpm: float) -> float:
    """Angular speed: 1 rpm = π/30 rad/s (NIST SP 811, table B.8)."""
    return speed_rpm * np.pi / 30.0


def pole_pairs_from_readings(frequency: NDArray[np.float64], speed_rpm: NDArray[np.float64]) -> PolePairs:
    """Pole pairs from frequencies and speeds of the same moments.

    Args:
        frequency: Hz, shape (n,).
        speed_rpm: rpm, shape (n,).
    """
    ratios = 60.0 * frequency / speed_rpm
    ratios = ratios[np.isfinite(ratios)]
    if len(ratios) < 3:
        return PolePairs(None, float("nan"), float("nan"))
    middle = float(np.median(ratios))
    spread = 1.4826 * float(np.median(np.abs(ratios - middle)))
    nearest = round(middle)
    doubt = max(3.0 * spread / np.sqrt(len(ratios)), 0.02 * max(nearest, 1))
    fits = 1 <= nearest <= 60 and abs(middle - nearest) <= min(doubt, 0.25)
    return PolePairs(nearest if fits else None, middle, spread, len(ratios))
