"""Formulas of the battery and the winding at the ends of where they hold."""

from __future__ import annotations

import pytest

from daq.cards.machine_parts import BatteryCard, Chemistry
from daq.job.physics.copper import resistance_ratio
from daq.job.physics.end_of_charge import end_of_charge_v
from daq.job.physics.peukert import hours_plain, hours_rated
from daq.job.physics.rest_voltage import ChargeBand, charge_band, table_voltage_v


@pytest.mark.parametrize("amps", [0.0, -1.0, float("nan")])
def test_a_battery_is_not_emptied_by_no_current(amps: float) -> None:
    with pytest.raises(ValueError, match="a battery is not emptied by"):
        hours_plain(18.0, amps, 1.2)
    with pytest.raises(ValueError, match="a battery is not emptied by"):
        hours_rated(18.0, 20.0, amps, 1.2)


@pytest.mark.parametrize("n", [0.99, 2.01])
def test_an_exponent_lies_between_one_and_two(n: float) -> None:
    with pytest.raises(ValueError, match=r"it lies between 1 and 2"):
        hours_plain(18.0, 1.0, n)


def test_at_its_rated_current_a_battery_lasts_its_rated_hours() -> None:
    assert hours_rated(18.0, 20.0, 0.9, 1.2) == pytest.approx(20.0)


def test_beyond_the_table_of_end_of_charge_its_ends_hold() -> None:
    coldest, hottest = end_of_charge_v(12.0, -60.0), end_of_charge_v(12.0, 90.0)
    assert end_of_charge_v(12.0, -80.0) == coldest
    assert end_of_charge_v(12.0, 120.0) == hottest
    assert coldest[0] > end_of_charge_v(12.0, 25.0)[0] > hottest[0]
    assert end_of_charge_v(24.0, 90.0) == pytest.approx([2.0 * volts for volts in hottest])


def test_a_band_of_charge_is_told_in_words() -> None:
    assert ChargeBand(0.5, 0.7).words == "50 to 70 %"
    assert ChargeBand(0.0, 0.0).words == "empty"
    assert ChargeBand(1.0, 1.0).words == "full"


def test_more_than_full_stands_at_the_volts_of_full() -> None:
    assert table_voltage_v(1.2) == table_voltage_v(1.0) > table_voltage_v(0.9)


@pytest.mark.parametrize(("from_c", "to_c"), [(-101.0, 20.0), (20.0, 401.0)])
def test_no_winding_is_so_cold_or_so_hot(from_c: float, to_c: float) -> None:
    with pytest.raises(ValueError, match="°C is no temperature of a winding"):
        resistance_ratio(from_c, to_c)


@pytest.mark.parametrize(("chemistry", "least_v", "most_v"), [("agm", 0.1, 0.25), ("gel", 0.1, 0.3)])
def test_a_sealed_battery_rests_higher_at_the_same_charge(
    chemistry: Chemistry, least_v: float, most_v: float
) -> None:
    """Its band begins where a flooded one's does at volts lower by the largest shift, and ends by the least."""

    def band(volts: float, kind: Chemistry) -> ChargeBand:
        battery = BatteryCard(nominal_voltage_v=12, capacity_ah=18, chemistry=kind)
        return charge_band(volts, 0.01, battery, 26.7)

    found = band(12.5, chemistry)
    assert found.low == pytest.approx(band(12.5 - most_v, "flooded").low, abs=0.006)
    assert found.high == pytest.approx(band(12.5 - least_v, "flooded").high, abs=0.006)
    assert found.low < band(12.5, "flooded").low - 0.2
    assert found.high < band(12.5, "flooded").high - 0.05
