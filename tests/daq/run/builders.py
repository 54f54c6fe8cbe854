"""Runs of an invented engine, and what may be wrong with them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.model.quantity import Quantity
from daq.run.channels import RunData
from tests.runs import channel_of, machine_of, run_of

Floats = NDArray[np.float64]
K = 24.0 / 3600.0


def engine(t: Floats) -> Floats:
    """A speed that does not repeat itself."""
    return np.asarray(2800.0 + 600.0 * np.sin(t / 7.0) + 250.0 * np.sin(t / 2.3), dtype=np.float64)


def times(seconds: float, step_s: float, first_s: float = 1.0) -> Floats:
    return np.asarray(np.arange(first_s, seconds, step_s), dtype=np.float64)


def run(lag_s: float = 0.2, *, own_clocks: bool = False, minimum_v: float = 20.0) -> RunData:
    speed_t, at = times(90.0, 0.5), times(90.0, 0.4)
    noise = np.random.default_rng(1).normal(0.0, 0.01, len(at))
    volts = np.round(K * engine(at) + noise, 2)
    data = run_of(
        (at + lag_s, volts), (speed_t, np.round(engine(speed_t))), machine=machine_of(3600.0, minimum_v)
    )
    if not own_clocks:
        return data
    parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
    return replace(data, channels=tuple(parts), imported=True)


def with_value(data: RunData, channel: int, value: Floats) -> RunData:
    parts = list(data.channels)
    parts[channel] = replace(parts[channel], value=value)
    return replace(data, channels=tuple(parts))


def with_frequency(data: RunData, pole_pairs: int) -> RunData:
    t = times(90.0, 0.5)
    channel = channel_of(2, Quantity.FREQUENCY, t, np.round(pole_pairs * engine(t) / 60.0, 1))
    return replace(data, channels=(*data.channels, channel))


def held(rpm: float, volts: float, *, minimum_v: float = 20.0, wander_rpm: float = 3.0) -> RunData:
    """One steady speed with its volts, both with their scatter."""
    rng = np.random.default_rng(11)
    speed_t, at = times(60.0, 0.5), times(60.0, 0.4)
    shown = np.round(volts + rng.normal(0.0, 0.01, len(at)), 2)
    speed = np.round(rpm + rng.normal(0.0, wander_rpm, len(speed_t)))
    return run_of((at, shown), (speed_t, speed), machine=machine_of(3600.0, minimum_v))


def turned(data: RunData, share: float, factor: float) -> RunData:
    """The tach reads a multiple for the last part of the run."""
    speed = data.channels[1].value.copy()
    speed[int((1.0 - share) * len(speed)) :] *= factor
    return with_value(data, 1, np.round(speed))


def beside(data: RunData, quantity: Quantity, value: Floats | float, step_s: float = 0.5) -> RunData:
    """One more channel over the length of the run."""
    t = times(float(data.channels[0].time_s[-1]), step_s)
    column = np.broadcast_to(np.asarray(value, dtype=np.float64), t.shape).copy()
    return replace(data, channels=(*data.channels, channel_of(2, quantity, t, column)))
