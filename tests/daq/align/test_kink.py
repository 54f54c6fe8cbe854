"""A kink within a tach window against what is granted for it: speeds known in closed form, no random runs.

Engines, accelerations and windows here are others than those of the benchmarks.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align import revolutions
from daq.align.kink import kink_uncertainty
from daq.align.revolution_table import RevolutionTable

Floats = NDArray[np.float64]
Turns = Callable[[Floats], Floats]


def step(engine_s: float) -> Turns:
    """Revolutions of an engine of first order after a step of its throttle by 1000 rpm at 0."""

    def turns(t: Floats) -> Floats:
        after = np.maximum(t, 0.0)
        rise = after - engine_s * (1.0 - np.exp(-after / engine_s))
        return np.asarray((2600.0 * t + 1000.0 * rise) / 60.0)

    return turns


def ramp(length_s: float) -> Turns:
    """Revolutions while the speed rises by 1000 rpm at one rate."""

    def turns(t: Floats) -> Floats:
        after, beyond = np.maximum(t, 0.0), np.maximum(t - length_s, 0.0)
        return np.asarray((2600.0 * t + 500.0 / length_s * (after**2 - beyond**2)) / 60.0)

    return turns


def shift_and_granted(turns: Turns, tach_s: float, phase_s: float) -> tuple[float, float]:
    """By how much one kink shifts the lag, and the standard uncertainty granted for it."""
    edges = np.arange(-10.0, 12.0, tach_s) + phase_s
    speed = 60.0 * np.diff(turns(edges)) / np.diff(edges)
    middles = 0.5 * (edges[1:] + edges[:-1])
    table = RevolutionTable.of(middles, speed, model="contiguous", period_s=tach_s, max_gap_s=2.6 * tach_s)
    ends, window_s = np.arange(-6.0, 8.0, 0.05), 0.4
    true = 60.0 * (turns(ends) - turns(ends - window_s)) / window_s
    error = table.window_means(ends, window_s).speed_rpm - true
    slope = np.gradient(true, ends)
    return float(error @ slope) / float(slope @ slope), kink_uncertainty(speed, tach_s)


@pytest.mark.parametrize("tach_s", [0.25, 0.5, 1.0])
@pytest.mark.parametrize(
    "turns", [step(0.25), step(0.5), step(1.1), step(2.5), ramp(0.5), ramp(1.3), ramp(5.0)]
)
@pytest.mark.parametrize("found", [True, False])
def test_what_is_granted_covers_a_kink_at_any_place_in_the_window(
    turns: Turns, tach_s: float, found: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not found:
        monkeypatch.setattr(revolutions, "find_kinks", lambda length, *_, **__: (None, len(length)))
    each = [shift_and_granted(turns, tach_s, phase) for phase in np.linspace(0.0, tach_s, 41)[:-1]]
    shift, granted = np.array(each).T
    assert abs(float(np.mean(shift))) < 0.001 * tach_s
    assert float(np.sqrt(np.mean(np.square(shift)))) < 1.3 * float(np.sqrt(np.mean(np.square(granted))))
    assert (np.abs(shift) < 3.0 * granted).all()


def test_the_table_of_the_docstring(monkeypatch: pytest.MonkeyPatch) -> None:
    """The moment of these kinks would be found: they stand for those of engines where it is not."""
    monkeypatch.setattr(revolutions, "find_kinks", lambda length, *_, **__: (None, len(length)))
    table = {
        0.3: (1.14, 0.038),
        0.6: (1.00, 0.024),
        0.8: (0.94, 0.025),
        1.6: (0.74, 0.011),
        3.0: (0.57, 0.006),
    }
    for ratio, (sharpness, width) in table.items():
        tach_s = 1.0 if ratio in (0.3, 0.8) else 0.5
        engine_s = ratio * tach_s
        turns = step(engine_s)
        edges = np.arange(-10.0, 12.0, tach_s) + 0.3 * tach_s
        speed = 60.0 * np.diff(turns(edges)) / tach_s
        first, second = np.diff(speed), np.diff(speed, 2)
        seen = float(np.sqrt(np.mean(np.square(second)) / np.mean(np.square(first))))
        assert seen == pytest.approx(sharpness, abs=0.12)
        shifts = [shift_and_granted(turns, tach_s, phase)[0] for phase in np.linspace(0.0, tach_s, 41)[:-1]]
        assert float(np.std(shifts)) / tach_s == pytest.approx(width, abs=0.0016)


def test_many_kinks_and_a_smooth_swing() -> None:
    t: Floats = np.arange(0.0, 60.0, 0.5)
    one = np.asarray(2600.0 + 1000.0 * (t > 30.0), dtype=np.float64)
    twelve = np.asarray(2600.0 + 1000.0 * (np.floor(t / 5.0) % 2.0), dtype=np.float64)
    swing = np.asarray(3600.0 + 60.0 * np.sin(2.5 * t), dtype=np.float64)
    assert kink_uncertainty(twelve, 0.5) == pytest.approx(kink_uncertainty(one, 0.5) / 11.0**0.5, rel=0.05)
    assert kink_uncertainty(swing, 0.5) < 0.25 * kink_uncertainty(one, 0.5)
    assert kink_uncertainty(np.full(50, 3600.0), 0.5) == 0.0
    assert kink_uncertainty(t[:3], 0.5) == 0.0


def sparse(turns: Turns, window_s: float, every_s: float, monkeypatch: pytest.MonkeyPatch) -> float:
    """Width of the lag, as a share of the tach window of 1 s, where the meter looks at a part of the time."""
    monkeypatch.setattr(revolutions, "find_kinks", lambda length, *_, **__: (None, len(length)))
    shifts = []
    for phase in np.linspace(0.0, 1.0, 12, endpoint=False):
        edges = np.arange(-10.0, 12.0) + phase
        table = RevolutionTable.of(
            0.5 * (edges[1:] + edges[:-1]),
            60.0 * np.diff(turns(edges)),
            model="contiguous",
            period_s=1.0,
            max_gap_s=2.6,
        )
        for first in np.linspace(-6.0, -6.0 + every_s, 10, endpoint=False):
            ends = np.arange(first, 8.0, every_s)
            near = [
                60.0 * (turns(ends + h) - turns(ends + h - window_s)) / window_s for h in (-1e-3, 0.0, 1e-3)
            ]
            slope = (near[2] - near[0]) / 2e-3
            error = table.window_means(ends, window_s).speed_rpm - near[1]
            shifts.append(float(error @ slope) / float(slope @ slope))
    return float(np.sqrt(np.mean(np.square(shifts))))


@pytest.mark.parametrize("engine_s", [0.5, 1.0, 2.0])
def test_a_meter_that_looks_at_a_part_of_the_time_sees_the_lag_worse(
    engine_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By 2.3 to 3.5 times with 0.4 of it; what is granted covers that, and stays where the windows meet."""
    whole = sparse(step(engine_s), 0.4, 0.4, monkeypatch)
    part = sparse(step(engine_s), 0.4, 1.0, monkeypatch)
    assert 2.0 < part / whole < 3.6
    speed = 60.0 * np.diff(step(engine_s)(np.arange(-10.0, 12.0) + 0.3))
    assert kink_uncertainty(speed, 1.0, 0.4) > 0.9 * part
    assert kink_uncertainty(speed, 1.0, 0.4) == pytest.approx(kink_uncertainty(speed, 1.0) / 0.16)
    assert kink_uncertainty(speed, 1.0, 1.2) == kink_uncertainty(speed, 1.0)
    assert kink_uncertainty(speed, 1.0, 0.01) == kink_uncertainty(speed, 1.0, 0.3)
