"""Copper's resistance against temperature, and copper wire itself (R1 to R7, C2).

Sources: IEC 60034-1, resistance method (VERIFIED-2nd); IEEE 112 constant and NBS Handbook 100 (VERIFIED-2nd
for R2, R3, and for AWG 12 to 24 of R6; AWG 10 MEMORY); the rest RECOMPUTED from the formulas.
"""

from __future__ import annotations

import math

import pytest

from daq.job.physics.copper import (
    K_COPPER_C,
    NO_INSULATION_TEST,
    at_20_degrees,
    change_per_kelvin,
    resistance_ratio,
    temperature_rise_k,
)
from tests.outside.published import held_against

# R6: NBS Handbook 100 (1966), ohm per 1000 ft of 100 % IACS copper at 20 °C.
OHM_PER_1000_FT = {
    10: 0.9989, 12: 1.588, 14: 2.525, 16: 4.016, 18: 6.385, 20: 10.15, 22: 16.14, 24: 25.67,
}  # fmt: skip
# R7: the same in ohm per km.
OHM_PER_KM = {14: 8.28551, 18: 20.94824, 24: 84.21508}


def wire_ohm(gauge: int, length_m: float, temperature_c: float = 20.0) -> float:
    """From IEC 60028 (1/58 ohm·mm²/m at 20 °C) and the gauge's diameter 0.005·92^((36-n)/39) inch."""
    diameter_mm = 25.4 * 0.005 * 92.0 ** ((36 - gauge) / 39.0)
    ohm = length_m / 58.0 / (0.25 * math.pi * diameter_mm**2)
    return float(ohm * resistance_ratio(20.0, temperature_c))


@pytest.mark.parametrize(("k", "expected"), [(235.0, 37.12), (234.5, 37.04)])
@held_against("R1")
def test_r1_rise_by_resistance(k: float, expected: float) -> None:
    assert temperature_rise_k(0.250, 22.0, 0.290, 26.0, k) == pytest.approx(expected, abs=0.005)


@held_against("R2")
def test_r2_the_constant_follows_from_the_coefficient() -> None:
    assert 1.0 / 0.00393 - 20.0 == pytest.approx(234.4529, abs=5e-5)
    assert round(1.0 / 0.00393 - 20.0, 1) == K_COPPER_C


@held_against("R3")
def test_r3_change_per_kelvin() -> None:
    assert change_per_kelvin(20.0) == pytest.approx(0.003929, abs=5e-7)


@held_against("R4")
def test_r4_ratio_from_20_to_75_degrees_by_three_ways() -> None:
    assert resistance_ratio(20.0, 75.0) == pytest.approx(1.216110, abs=5e-7)
    assert resistance_ratio(20.0, 75.0, 235.0) == pytest.approx(1.215686, abs=5e-7)
    linear = 1.0 + 0.00393 * 55.0
    assert linear == pytest.approx(1.216150, abs=5e-7)
    assert abs(resistance_ratio(20.0, 75.0, 235.0) / linear - 1.0) < 0.0004


@pytest.mark.parametrize(
    ("temperature_c", "expected"), [(25, 1.019646), (50, 1.117878), (100, 1.314342), (130, 1.432220)]
)
@held_against("R5")
def test_r5_ratios(temperature_c: float, expected: float) -> None:
    assert resistance_ratio(20.0, temperature_c) == pytest.approx(expected, abs=5e-7)
    assert at_20_degrees(expected, temperature_c) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("gauge", sorted(OHM_PER_1000_FT))
@held_against("R6")
def test_r6_a_hot_coil_of_published_wire_is_brought_back_to_its_table(gauge: int) -> None:
    hot = wire_ohm(gauge, 304.8, temperature_c=85.0)
    assert hot > 1.2 * OHM_PER_1000_FT[gauge]
    # The handbook rounds thick wires' diameters to 0.1 mil, which moves the fourth digit.
    assert at_20_degrees(hot, 85.0) == pytest.approx(OHM_PER_1000_FT[gauge], rel=0.003)


@pytest.mark.parametrize("gauge", sorted(OHM_PER_KM))
@held_against("R7")
def test_r7_the_same_per_kilometre(gauge: int) -> None:
    cold = wire_ohm(gauge, 1000.0, temperature_c=-5.0)
    assert at_20_degrees(cold, -5.0) == pytest.approx(OHM_PER_KM[gauge], rel=1e-5)


def test_a_temperature_of_no_winding_is_refused() -> None:
    with pytest.raises(ValueError, match="600 °C"):
        at_20_degrees(0.25, 600.0)


@held_against("C2")
def test_c2_an_ohmmeter_is_no_insulation_test() -> None:
    """IEEE 43-2013, table 1 (MEMORY): 500 V DC for windings under 1 kV."""
    assert "no test of its insulation" in NO_INSULATION_TEST
    assert "IEEE 43-2013" in NO_INSULATION_TEST
    assert "500 V DC" in NO_INSULATION_TEST
