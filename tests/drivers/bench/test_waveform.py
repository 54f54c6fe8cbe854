"""The settled cycle against closed forms of circuit theory."""

from __future__ import annotations

import math

import pytest

from drivers.bench.waveform import AT_REST, Branch, settle

E_V, F_HZ, R_OHM = 10.0, 100.0, 2.0
TINY_H = 1e-7


def branch(
    *,
    inductance_h: float = TINY_H,
    resistance_ohm: float = R_OHM,
    forward: tuple[float, float] | None = (0.0, 0.0),
    backward: tuple[float, float] | None = (0.0, 0.0),
) -> Branch:
    return Branch(E_V, F_HZ, resistance_ohm, inductance_h, forward, backward)


def test_full_wave_into_a_resistance() -> None:
    # mean of a full-wave rectified sine 2√2/π = 0.9003 of its rms, form factor 1.1107 (standard texts)
    wave = settle(branch())
    mean_a = wave.forward_mean_a + wave.backward_mean_a
    assert mean_a == pytest.approx(2 * math.sqrt(2) / math.pi * E_V / R_OHM, rel=1e-3)
    assert wave.current_rms_a == pytest.approx(E_V / R_OHM, rel=1e-3)
    assert wave.current_rms_a / mean_a == pytest.approx(1.1107, rel=1e-3)


def test_half_wave_into_a_resistance() -> None:
    # form factor of a half-wave rectified sine π/2 (standard texts)
    wave = settle(branch(backward=None))
    assert wave.backward_mean_a == 0.0
    assert wave.forward_mean_a == pytest.approx(math.sqrt(2) / math.pi * E_V / R_OHM, rel=1e-3)
    assert wave.forward_rms_a / wave.forward_mean_a == pytest.approx(math.pi / 2, rel=1e-3)


def test_short_circuit_through_an_inductance() -> None:
    # I = E / √(R² + (ωL)²)
    inductance_h = 0.004
    wave = settle(branch(inductance_h=inductance_h, resistance_ohm=0.5))
    rms_a = E_V / math.hypot(0.5, math.tau * F_HZ * inductance_h)
    assert wave.current_rms_a == pytest.approx(rms_a, rel=5e-4)
    mean_a = wave.forward_mean_a + wave.backward_mean_a
    assert mean_a == pytest.approx(2 * math.sqrt(2) / math.pi * rms_a, rel=5e-4)


def test_into_a_counter_voltage_through_a_resistance() -> None:
    # current flows while √2·E·sin θ > U, from θ1 to π-θ1: mean (√2·E·cos θ1 - U·(π/2 - θ1))·2/(π·R)
    counter_v = 9.0
    wave = settle(branch(forward=(counter_v, 0.0), backward=(counter_v, 0.0)))
    theta = math.asin(counter_v / (math.sqrt(2) * E_V))
    mean_a = (
        2 / (math.pi * R_OHM) * (math.sqrt(2) * E_V * math.cos(theta) - counter_v * (math.pi / 2 - theta))
    )
    assert wave.forward_mean_a + wave.backward_mean_a == pytest.approx(mean_a, rel=2e-3)


def test_a_counter_voltage_above_the_peak_lets_nothing_through() -> None:
    wave = settle(branch(forward=(14.2, 0.0), backward=(14.2, 0.0)))
    assert wave.current_rms_a == 0.0
    assert wave.terminal_rms_v == pytest.approx(E_V, rel=1e-4)


def test_current_that_can_not_turn_round_is_held_to_one_way() -> None:
    wave = settle(branch(inductance_h=0.004, resistance_ohm=0.5, forward=(2.0, 0.1), backward=None))
    assert wave.forward_mean_a > 1.0
    assert wave.backward_mean_a == 0.0


def test_nothing_turns() -> None:
    assert settle(Branch(0.0, 0.0, R_OHM, TINY_H, (0.0, 0.0), None)) is AT_REST
