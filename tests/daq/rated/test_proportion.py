"""Departures from proportion: offset, sag, hysteresis, and volts that follow nothing."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.rated.proportion import Proportion, examine_proportion

Floats = NDArray[np.float64]

K = 24.0 / 3600.0


def sweep(count: int = 160) -> tuple[Floats, Floats]:
    """Two sweeps up and down: speed, and its slope."""
    place = np.abs((np.arange(count) / count * 2.0) % 1.0 * 2.0 - 1.0)
    speed = 1900.0 + 1700.0 * (1.0 - place)
    return speed, np.gradient(speed) / 0.4


def examined(volts: Floats, noise_v: float = 0.01, seed: int = 1) -> Proportion:
    speed, slope = sweep()
    rng = np.random.default_rng(seed)
    return examine_proportion(speed, volts + rng.normal(0.0, noise_v, len(speed)), slope, 3600.0)


def test_in_proportion() -> None:
    speed, _ = sweep()
    p = examined(K * speed)
    assert p.line is not None
    assert p.sag is not None
    assert p.u_sag is not None
    assert p.hysteresis_v is not None
    assert p.u_hysteresis_v is not None
    assert abs(p.line.offset) < 3.0 * p.line.u_offset
    assert p.line.slope == pytest.approx(K, rel=1e-3)
    assert p.elasticity == pytest.approx(1.0, abs=2e-3)
    assert abs(p.sag) < 4.0 * p.u_sag
    assert abs(p.hysteresis_v) < 4.0 * p.u_hysteresis_v


@pytest.mark.parametrize("offset_v", [-1.5, -0.2, 0.2, 2.0])
def test_offset(offset_v: float) -> None:
    speed, _ = sweep()
    p = examined(K * speed + offset_v)
    assert p.line is not None
    assert p.line.offset == pytest.approx(offset_v, abs=4.0 * p.line.u_offset)
    assert p.line.u_offset < 0.02


def test_sag_at_the_top() -> None:
    speed, _ = sweep()
    share = np.clip((speed - 3000.0) / 600.0, 0.0, 1.0)
    p = examined(K * speed * (1.0 - 0.06 * share))
    assert p.sag is not None
    assert p.u_sag is not None
    assert p.sag == pytest.approx(0.045, abs=0.015)
    assert p.sag > 5.0 * p.u_sag


def test_hysteresis_of_a_wrong_lag() -> None:
    """Volts read 0.2 s late: speeding up they lie low by slope x 0.2 s, slowing down they lie high."""
    speed, slope = sweep()
    p = examined(K * (speed - 0.2 * slope))
    assert p.hysteresis_v is not None
    assert p.u_hysteresis_v is not None
    expected = -2.0 * K * 0.2 * float(np.median(np.abs(slope)))
    assert p.hysteresis_v == pytest.approx(expected, rel=0.15)
    assert abs(p.hysteresis_v) > 4.0 * p.u_hysteresis_v


def test_volts_held_by_a_regulator_have_no_elasticity() -> None:
    speed, _ = sweep()
    p = examined(np.full(len(speed), 14.2))
    assert p.elasticity == pytest.approx(0.0, abs=0.01)


def test_outliers_do_not_bend_the_line() -> None:
    speed, _ = sweep()
    volts = K * speed
    volts[::9] *= 0.4
    p = examined(volts)
    assert p.line is not None
    assert p.line.slope == pytest.approx(K, rel=5e-3)


def test_uncertainties_carry_the_likeness_of_neighbours() -> None:
    speed, _ = sweep()
    rng = np.random.default_rng(4)
    white = rng.normal(0.0, 0.02, len(speed))
    slow = np.convolve(rng.normal(0.0, 0.02, len(speed) + 9), np.full(10, 10.0**-0.5), "valid")
    plain, alike = examined(K * speed + white, 0.0), examined(K * speed + slow, 0.0)
    assert plain.line is not None
    assert alike.line is not None
    assert alike.line.u_offset > 1.7 * plain.line.u_offset


@pytest.mark.parametrize("span_rpm", [0.0, 100.0, 400.0])
def test_too_little_span_says_nothing(span_rpm: float) -> None:
    speed = np.linspace(3600.0 - span_rpm, 3600.0, 100)
    p = examine_proportion(speed, K * speed, np.zeros(100), 3600.0)
    assert p == Proportion()


def test_too_few_rows_say_nothing() -> None:
    speed = np.linspace(1800.0, 3600.0, 11)
    assert examine_proportion(speed, K * speed, np.zeros(11), 3600.0) == Proportion()


def test_one_reading_at_idle_is_no_span() -> None:
    """A single stray row must not make a line out of a steady run."""
    speed = np.full(100, 3600.0)
    speed[50] = 1500.0
    p = examine_proportion(speed, K * speed, np.zeros(100), 3600.0)
    assert p == Proportion()
