"""The battery side of the job against published tables (B1 to B7).

Sources: B1, B2, B4 battery-trade tables (VERIFIED); B3 another trade page (VERIFIED); B5 an open lecture page,
B6 an open tutorial (VERIFIED); B7 RECOMPUTED from the formula.
"""

from __future__ import annotations

import pytest

from daq.cards.machine_parts import BatteryCard
from daq.job.physics.end_of_charge import end_of_charge_v
from daq.job.physics.peukert import PLAIN, RATED_HOURS, hours_plain, hours_rated
from daq.job.physics.rest_voltage import charge_band, table_voltage_v, temperature_correction_v
from tests.outside.published import held_against

FLOODED = BatteryCard(nominal_voltage_v=12, chemistry="flooded")
AT_80_F = 26.6667

# B1: 12 V, flooded, 80 °F: volts at rest and percent of charge.
B1 = ((12.65, 1.0), (12.45, 0.75), (12.24, 0.5), (12.06, 0.25), (11.89, 0.0))
# B2: what the same table adds, by °F.
B2 = ((0.0, -0.192), (80.0, 0.0), (120.0, 0.096))
# B3: end-of-charge volts, conventional and maintenance-free, by °F.
B3 = ((95.0, 14.2, 14.5), (75.0, 14.4, 14.7), (0.0, 15.1, 15.4))
# B4: "full" in four tables, "empty" from the lowest to the highest.
B4_FULL, B4_EMPTY = (12.6, 12.65, 12.66, 12.7), (11.6, 11.89)


@pytest.mark.parametrize(("voltage_v", "share"), B1)
@held_against("B1")
def test_b1_the_published_charge_lies_in_the_band(voltage_v: float, share: float) -> None:
    band = charge_band(voltage_v, 0.0, FLOODED, AT_80_F)
    assert band.low - 0.01 <= share <= band.high + 0.01
    assert band.high - band.low < 0.55
    assert table_voltage_v(share) == pytest.approx(voltage_v, abs=1e-9)


@pytest.mark.parametrize(("fahrenheit", "expected_v"), B2)
@held_against("B2")
def test_b2_temperature_correction(fahrenheit: float, expected_v: float) -> None:
    assert temperature_correction_v((fahrenheit - 32.0) / 1.8) == pytest.approx(expected_v, abs=1e-9)


@held_against("B2")
def test_b2_a_cold_battery_is_taken_as_less_full() -> None:
    warm = charge_band(12.45, 0.0, FLOODED, AT_80_F)
    cold = charge_band(12.45, 0.0, FLOODED, -17.8)
    assert cold.low < warm.low
    assert cold.high < warm.high


@pytest.mark.parametrize(("fahrenheit", "conventional_v", "maintenance_free_v"), B3)
@held_against("B3")
def test_b3_end_of_charge(fahrenheit: float, conventional_v: float, maintenance_free_v: float) -> None:
    low_v, high_v = end_of_charge_v(12, (fahrenheit - 32.0) / 1.8)
    assert low_v == pytest.approx(conventional_v, abs=1e-9)
    assert high_v == pytest.approx(maintenance_free_v, abs=1e-9)


@held_against("B4")
def test_b4_where_tables_disagree_full_and_empty_are_both_left_open() -> None:
    for voltage_v in B4_FULL:
        assert charge_band(voltage_v, 0.0, FLOODED, AT_80_F).high == 1.0
    assert charge_band(B4_FULL[-1], 0.0, FLOODED, AT_80_F).low == 1.0
    assert charge_band(B4_FULL[0], 0.0, FLOODED, AT_80_F).low < 0.95
    for voltage_v in B4_EMPTY:
        assert charge_band(voltage_v, 0.0, FLOODED, AT_80_F).low == 0.0
    assert charge_band(B4_EMPTY[0], 0.0, FLOODED, AT_80_F).high == 0.0
    assert charge_band(B4_EMPTY[1], 0.0, FLOODED, AT_80_F).high > 0.1


def test_other_batteries_scale_and_an_unknown_one_is_a_wider_band() -> None:
    small = BatteryCard(nominal_voltage_v=6, chemistry="flooded")
    assert charge_band(6.225, 0.0, small, AT_80_F) == charge_band(12.45, 0.0, FLOODED, AT_80_F)
    unknown = charge_band(12.45, 0.0, BatteryCard(nominal_voltage_v=12), AT_80_F)
    known = charge_band(12.45, 0.0, FLOODED, AT_80_F)
    assert unknown.low < known.low
    assert unknown.high == known.high


def test_doubt_in_the_volts_or_the_temperature_widens_the_band() -> None:
    sharp = charge_band(12.3, 0.0, FLOODED, AT_80_F)
    for doubtful in (charge_band(12.3, 0.05, FLOODED, AT_80_F), charge_band(12.3, 0.0, FLOODED, None)):
        assert doubtful.low < sharp.low
        assert doubtful.high > sharp.high


@held_against("B5", "B6")
def test_b5_b6_plain_form() -> None:
    assert hours_plain(100.0, 5.0, 1.2) == pytest.approx(14.4956, abs=5e-5)
    assert hours_plain(250.0, 20.0, 1.3) == pytest.approx(5.088631644, abs=5e-10)
    assert 20.0 * hours_plain(250.0, 20.0, 1.3) == pytest.approx(101.772632884, abs=5e-9)


@pytest.mark.parametrize(("current_a", "expected_h"), [(5.0, 20.0), (10.0, 8.70551), (20.0, 3.78929)])
@held_against("B7")
def test_b7_form_with_rated_hours(current_a: float, expected_h: float) -> None:
    assert hours_rated(100.0, 20.0, current_a, 1.2) == pytest.approx(expected_h, abs=5e-6)


@held_against("B5", "B7")
def test_b7_the_forms_differ_so_each_has_a_name() -> None:
    assert hours_rated(100.0, 20.0, 5.0, 1.2) > 1.3 * hours_plain(100.0, 5.0, 1.2)
    assert "rated hours" in RATED_HOURS
    assert "plain" in PLAIN


@pytest.mark.parametrize(("current_a", "n"), [(0.0, 1.2), (-3.0, 1.2), (5.0, 0.5)])
def test_nothing_is_made_of_no_current_or_of_no_exponent(current_a: float, n: float) -> None:
    with pytest.raises(ValueError, match="is not emptied|is no exponent"):
        hours_rated(100.0, 20.0, current_a, n)
