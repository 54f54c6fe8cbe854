"""Very many readings in two threads give the same rows, bit for bit, as fed in chunks in one."""

from __future__ import annotations

import numpy as np
import pytest

from daq.align.pairing import run_kernel
from daq.align.parts import LONG
from daq.align.revolutions import TachModel
from daq.align.synchronizer import AlignmentParameters, PairedRows, Synchronizer

COUNT = LONG + 5000


@pytest.mark.parametrize("model", ["contiguous", "sampled"])
def test_rows_are_the_same_bits(model: TachModel) -> None:
    rng = np.random.default_rng(6)
    speed_t = 0.1 * np.arange(COUNT) + 0.02 * rng.random(COUNT)
    volts_t = 0.1 * np.arange(COUNT) + 0.03 + 0.02 * rng.random(COUNT)
    speed = 3000.0 + 600.0 * np.sin(0.3 * speed_t) + rng.normal(0.0, 2.0, COUNT)
    volts = speed / 150.0
    kept = np.ones(COUNT, np.bool_)
    kept[rng.integers(0, COUNT, 2000)] = False  # single ones missing
    kept[200_000:200_400] = False  # and a hole that is not bridged
    speed_t, speed = speed_t[kept], speed[kept]
    parameters = AlignmentParameters(0.25, 0.1, model, 0.1, 0.26)
    whole = run_kernel(parameters, speed_t, speed, volts_t, volts)

    kernel, parts = Synchronizer(parameters), []
    for begin_s in np.arange(0.0, volts_t[-1] + 700.0, 700.0):
        s0, s1 = np.searchsorted(speed_t, (begin_s, begin_s + 700.0))
        v0, v1 = np.searchsorted(volts_t, (begin_s, begin_s + 700.0))
        parts.append(kernel.feed(speed_t[s0:s1], speed[s0:s1], volts_t[v0:v1], volts[v0:v1]))
    fed = PairedRows.joined([*parts, kernel.flush()])
    for name in ("time_s", "voltage_v", "speed_rpm", "slope_rpm_s", "bridged"):
        assert np.array_equal(getattr(whole, name), getattr(fed, name), equal_nan=name != "bridged"), name
    assert 300 < np.isnan(whole.speed_rpm).sum() < 600
    assert whole.bridged.sum() > 1000
