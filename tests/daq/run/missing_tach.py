"""Runs of an invented engine beside a tach that counts marks in windows, and may miss some."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from daq.cards.instrument import Accuracy, ChannelCard, Response
from daq.model.quantity import Quantity
from daq.run.channels import RunData
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]
Way = Literal["hold", "sweep", "hunting"]

WAYS: tuple[Way, ...] = ("hold", "sweep", "hunting")
METER = ChannelCard(
    Quantity.AC_VOLTAGE,
    resolution=0.01,
    accuracy=Accuracy(0.5, 3),
    response=Response(window_s=0.4, interval_s=0.4),
)
TACH = ChannelCard(
    Quantity.ROTATIONAL_SPEED,
    resolution=1.0,
    marks_per_revolution=1,
    accuracy=Accuracy(0.05, 1),
    response=Response(window_s=0.5, interval_s=0.5, averaging="contiguous"),
)
_STEP_S = 0.005


def true_speed(way: Way, t: Floats, rng: np.random.Generator) -> Floats:
    """Speed on a fine grid, with a governor that is never quite at rest."""
    restless = sum(
        rng.uniform(2.0, 8.0) * np.sin(2.0 * np.pi * rng.uniform(0.05, 0.6) * t + rng.uniform(0.0, 6.28))
        for _ in range(4)
    )
    if way == "sweep":
        return np.asarray(3250.0 - 650.0 * np.cos(2.0 * np.pi * t / 30.0) + restless)
    if way == "hunting":
        return np.asarray(3600.0 + 80.0 * np.sin(2.0 * np.pi * 0.4 * t + 0.9 * np.sin(0.5 * t)) + restless)
    return np.asarray(3600.0 + restless)


def windows(t: Floats, x: Floats, end_s: Floats, window_s: float) -> Floats:
    """Means over windows that end at these moments."""
    area = np.concatenate(([0.0], np.cumsum(0.5 * (x[1:] + x[:-1]) * _STEP_S)))
    return np.asarray((np.interp(end_s, t, area) - np.interp(end_s - window_s, t, area)) / window_s)


def fine(seconds: float) -> Floats:
    """The grid on which the engine turns."""
    return np.arange(-2.0, seconds + 1.0, _STEP_S)


def watched(
    way: Way,
    rated_v: float,
    seed: int,
    *,
    missed: float = 0.0,
    slack: float = 0.0,
    noise_rpm: float = 0.0,
    seconds: float = 60.0,
) -> RunData:
    """A run of so many volts at 3600 rpm, limit 20 V.

    Args:
        way: what the throttle does.
        rated_v: true output at rated speed.
        seed: of all that is random.
        missed: marks missed in a window, on the mean, each as likely as any.
        slack: mean share by which a reading lies low, exponentially spread.
        noise_rpm: even scatter of the tach.
        seconds: length.
    """
    rng = np.random.default_rng(seed)
    t = fine(seconds)
    n = true_speed(way, t, rng)
    speed_end, volts_end = np.arange(0.3, seconds, 0.5), np.arange(0.1, seconds, 0.4)
    speed = windows(t, n, speed_end, 0.5)
    marks = np.round(speed * 0.5 / 60.0)
    speed = (
        speed
        * (1.0 - rng.poisson(missed, len(speed)) / marks)
        * (1.0 - slack * rng.exponential(1.0, len(speed)))
    )
    speed = speed + rng.normal(0.0, noise_rpm, len(speed))
    volts = windows(t, rated_v / 3600.0 * n, volts_end, 0.4) + rng.normal(0.0, 0.01, len(volts_end))
    return run_of(
        (volts_end + 0.3, np.round(volts, 2)),
        (speed_end + 0.1, np.round(speed)),
        machine=machine_of(3600.0, 20.0),
        meter=METER,
        tach=TACH,
    )
