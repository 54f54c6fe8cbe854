"""Runs of an alternator whose output at rated speed moves slowly, with instruments that average and come late."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.run.channels import RunData
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]
LAG_S = 0.15
_FINE_S = 0.01


def sweeping(t: Floats, period_s: float = 30.0) -> Floats:
    """Up and down between 2600 and 3900 rpm, beside it a governor's small wandering."""
    wander = 5.0 * np.sin(0.9 * t + 0.5) + 4.0 * np.sin(2.4 * t + 2.0) + 3.0 * np.sin(0.47 * t)
    return np.asarray(3250.0 - 650.0 * np.cos(2.0 * np.pi * t / period_s) + wander)


def stepping(t: Floats) -> Floats:
    """Levels of seven seconds, none twice, reached within about two seconds."""
    levels = np.array([3400.0, 3700.0, 3000.0, 3550.0, 3250.0, 3800.0, 3480.0, 2900.0, 3620.0, 3300.0])
    speed = np.full(len(t), levels[0])
    for before, after, at_s in zip(levels[:-1], levels[1:], 7.0 * np.arange(1, 10), strict=True):
        speed += (after - before) * np.where(t > at_s, 1.0 - np.exp(-np.maximum(t - at_s, 0.0) / 0.6), 0.0)
    return np.asarray(speed + 3.0 * np.sin(1.3 * t))


def hunting(t: Floats) -> Floats:
    return np.asarray(3600.0 + 80.0 * np.sin(2.4 * t + 0.6 * np.sin(0.5 * t)) + 20.0 * np.sin(0.3 * t))


def falling(first_v: float, last_v: float) -> Callable[[Floats], Floats]:
    """The output at rated speed, evenly from one to the other in a minute."""
    return lambda t: np.asarray(first_v + (last_v - first_v) * np.clip(t / 60.0, 0.0, 1.0))


def warming(first_v: float, share: float) -> Callable[[Floats], Floats]:
    """It falls by a share, most of it in the first half minute."""
    return lambda t: np.asarray(first_v * (1.0 - share * (1.0 - np.exp(-np.maximum(t, 0.0) / 15.0))))


def heated(
    speed: Callable[[Floats], Floats],
    output_v: Callable[[Floats], Floats],
    *,
    seconds: float = 60.0,
    seed: int = 1,
    own_clocks: bool = False,
    clock_off_s: float = 0.0,
) -> RunData:
    """A run of two instruments.

    Args:
        speed: rpm at times.
        output_v: volts at rated speed, 3600 rpm, at times.
        seconds: how long.
        seed: of the noise.
        own_clocks: the two are logs of two devices.
        clock_off_s: by which the tach's log is dated later.
    """
    rng = np.random.default_rng(seed)
    fine = np.arange(-2.0, seconds + 1.0, _FINE_S)
    rpm = speed(fine)

    def means(of: Floats, step_s: float, late_s: float) -> tuple[Floats, Floats]:
        ends = np.arange(rng.uniform(0.0, step_s), seconds, step_s)
        total = np.concatenate(([0.0], np.cumsum(0.5 * (of[1:] + of[:-1]) * _FINE_S)))
        mean = (np.interp(ends, fine, total) - np.interp(ends - step_s, fine, total)) / step_s
        return ends + late_s + np.abs(rng.normal(0.0, 0.03, len(ends))), mean

    at, volts = means(output_v(fine) * rpm / 3600.0, 0.4, 0.3)
    speed_t, shown = means(rpm, 0.5, 0.1)
    volts = np.round(volts + rng.normal(0.0, 0.01, len(volts)), 2)
    data = run_of((at, volts), (speed_t + clock_off_s, np.round(shown)), machine=machine_of(3600.0, 20.0))
    return logs_of_two(data) if own_clocks else data


def logs_of_two(data: RunData) -> RunData:
    """The same as logs of two devices."""
    parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
    return replace(data, channels=tuple(parts), imported=True)
