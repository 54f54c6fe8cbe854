"""Short logs of two devices, one reading a second each, of an engine that does what a test asks for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.run.channels import RunData
from tests.daq.run.builders import K
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]

_STEP_S = 0.01


def engine_of(turns: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """A fine time, and the speed that goes through these corners smoothly, with a little hunting."""
    t = np.arange(-3.0, float(turns[0][-1]) + 3.0, _STEP_S)
    corners = np.interp(t, *turns)
    smooth = np.convolve(np.pad(corners, 40, mode="edge"), np.full(81, 1.0 / 81.0), "valid")
    return t, np.asarray(smooth + 5.0 * np.sin(2.0 * np.pi * 0.31 * t) + 3.0 * np.sin(2.0 * np.pi * 0.17 * t))


def two_logs(
    engine: tuple[Floats, Floats],
    *,
    seed: int = 1,
    volts_window_s: float = 0.4,
    speed_window_s: float = 1.0,
    speed_step_s: float = 1.0,
    apart_s: float = 3.2,
    k: float = K,
    minimum_v: float = 20.0,
    imported: bool = True,
) -> RunData:
    """One reading a second each unless said otherwise, the tach's clock ahead."""
    rng = np.random.default_rng(seed)
    t, speed = engine
    sums = np.concatenate(([0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1])) * _STEP_S))

    def means(ends: Floats, window_s: float) -> Floats:
        return np.asarray((np.interp(ends, t, sums) - np.interp(ends - window_s, t, sums)) / window_s)

    at, n_at = (np.arange(rng.uniform(0.0, step), t[-1] - 3.0, step) for step in (1.0, speed_step_s))
    volts = np.round(k * means(at, volts_window_s) + rng.normal(0.0, 0.01, len(at)), 2)
    rpm = np.round(means(n_at, speed_window_s))
    late = [np.abs(rng.normal(0.0, 0.03, len(x))) for x in (at, n_at)]
    data = run_of(
        (at + 1.3 + late[0], volts),
        (n_at + 1.1 + apart_s + late[1], rpm),
        machine=machine_of(3600.0, minimum_v),
    )
    if not imported:
        return data
    parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
    return replace(data, channels=tuple(parts), imported=True)
