"""The winding: frequency, volts against speed, resistance."""

from __future__ import annotations

import cmath
import math

import pytest

from drivers.bench.alternator import Winding, frequency_hz

# n = 120 f / P: any machines text (Ohio University open slides print the formula; an open course
# table prints these speeds for P = 2 to 16).
SPEEDS_50_HZ = (3000, 1500, 1000, 750, 600, 500, 428.5714, 375, 333.3333, 300, 272.7273, 250)
SPEEDS_60_HZ = (3600, 1800, 1200, 900, 720, 600, 514.2857, 450, 400, 360, 327.2727, 300)


@pytest.mark.parametrize(("hz", "speeds_rpm"), [(50.0, SPEEDS_50_HZ), (60.0, SPEEDS_60_HZ)])
def test_frequency_against_the_published_table(hz: float, speeds_rpm: tuple[float, ...]) -> None:
    for pole_pairs, speed_rpm in enumerate(speeds_rpm, start=1):
        assert frequency_hz(pole_pairs, speed_rpm) == pytest.approx(hz, rel=2e-7)


@pytest.mark.parametrize(("poles", "speed_rpm", "hz"), [(12, 3600, 360.0), (18, 3000, 450.0)])
def test_frequency_of_flywheel_alternators(poles: int, speed_rpm: float, hz: float) -> None:
    assert frequency_hz(poles // 2, speed_rpm) == pytest.approx(hz, rel=1e-12)


def test_no_poles_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 1"):
        frequency_hz(0, 3600.0)


def test_a_sound_winding_gives_volts_in_proportion_to_speed() -> None:
    winding = Winding(28.0 / 3600.0)
    # J. Bird, Electrical Circuit Theory and Technology, d.c. machines: 150 V at 20 rev/s is
    # 187.5 V at 25 rev/s with the same flux
    ratio = winding.open_circuit_v(60.0 * 25) / winding.open_circuit_v(60.0 * 20)
    assert 150.0 * ratio == pytest.approx(187.5, rel=1e-12)
    assert winding.open_circuit_v(3600.0) == pytest.approx(28.0, rel=1e-12)
    assert winding.open_circuit_v(0.0) == 0.0


def test_shorted_turns_by_the_phasors_of_two_coupled_loops() -> None:
    k, r, l_h, share, contact, coupling = 0.0078, 0.25, 0.0008, 0.15, 0.02, 0.25
    winding = Winding(k, 6, r, l_h, shorted_share=share, short_contact_ohm=contact, short_coupling=coupling)
    for speed_rpm in (600.0, 1800.0, 3600.0):
        omega = math.tau * 6 * speed_rpm / 60.0
        emf = k * speed_rpm
        current = share * emf / (share * r + contact + 1j * omega * share * l_h)
        taken = coupling * (1 - share) / share * 1j * omega * share * l_h * current
        assert winding.open_circuit_v(speed_rpm) == pytest.approx(abs(emf * (1 - share) - taken), rel=1e-12)
        assert cmath.phase(current) < 0.0


def test_shorted_turns_sag_below_the_straight_line_at_speed() -> None:
    winding = Winding(28.0 / 3600.0, shorted_share=0.15)
    per_rpm = [winding.open_circuit_v(speed_rpm) / speed_rpm for speed_rpm in (600.0, 1800.0, 3600.0)]
    assert per_rpm[0] > per_rpm[1] > per_rpm[2]
    assert per_rpm[0] < 0.85 * 28.0 / 3600.0


def test_resistance_between_the_leads() -> None:
    assert Winding(0.0078, resistance_ohm=0.25).terminal_ohm == 0.25
    # 15 % of 0.25 ohm bridged by a contact of 0.02 ohm: 0.2125 + 0.0375 || 0.02
    shorted = Winding(0.0078, resistance_ohm=0.25, shorted_share=0.15, short_contact_ohm=0.02)
    assert shorted.terminal_ohm == pytest.approx(0.2125 + 0.0375 * 0.02 / 0.0575, rel=1e-12)
