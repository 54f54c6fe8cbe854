"""A battery that is no lead-acid one is never judged by lead-acid values: its maker's data count."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from daq.cards.machine import MachineCard
from daq.cards.machine_parts import BatteryCard, Chemistry
from daq.cards.open_points import open_points
from daq.job.charge.budget import charge_budget
from daq.job.judging.battery_rest import band_of, judge_battery_rest
from daq.job.judging.charging import judge_charging
from daq.job.judging.held_back import holds_back, may_hold_back
from daq.job.judging.loads import judge_loads
from daq.job.physics.peukert import exponent_of
from daq.job.physics.rest_voltage import charge_band
from daq.run.load_signs import _charging_band
from tests.daq.job.builders import CART, given

OTHERS: tuple[Chemistry, ...] = ("lithium", "other")


def of(chemistry: Chemistry | None, *, card: MachineCard = CART, **changes: object) -> MachineCard:
    battery = BatteryCard(nominal_voltage_v=12, capacity_ah=18, chemistry=chemistry)
    return replace(card, battery=battery, **{"charging_voltage_v": None, **changes})


@pytest.mark.parametrize("chemistry", OTHERS)
@pytest.mark.parametrize("rest_v", [13.3, 12.0, 10.0])
def test_its_rest_volts_are_told_and_not_judged(chemistry: Chemistry, rest_v: float) -> None:
    state = given(machine=of(chemistry), rest_voltage=rest_v)
    judgement = judge_battery_rest(state)
    (line,) = judgement.lines
    assert (line.verdict, line.limit) == ("no_limit", "")
    assert "its maker's data or its own display say counts" in line.sentence
    assert judgement.findings == ()
    assert band_of(state) is None
    assert judge_battery_rest(given(machine=of("flooded"), rest_voltage=rest_v)).findings


@pytest.mark.parametrize("chemistry", OTHERS)
def test_how_far_it_gives_way_is_not_held_against_it(chemistry: Chemistry) -> None:
    state = given(machine=of(chemistry), rest_voltage=13.3, loaded_voltage=11.0, load_current=6.0)
    judgement = judge_loads(state)
    line = next(each for each in judgement.lines if each.title == "Battery under load")
    assert (line.verdict, line.limit) == ("no_limit", "")
    assert not {"battery_sags", "battery_holds"} & {each.name for each in judgement.findings}
    sound = judge_loads(given(machine=of("agm"), rest_voltage=13.3, loaded_voltage=11.0, load_current=6.0))
    assert "battery_sags" in {each.name for each in sound.findings}


@pytest.mark.parametrize("volts", [13.6, 14.4, 14.6])
def test_without_its_makers_range_few_amps_blame_nobody(volts: float) -> None:
    state = given(
        machine=of("lithium"), rest_voltage=13.3, voltage_work=volts, current_work=0.1, load_current=6.0
    )
    assert may_hold_back(state)
    assert holds_back(state) < 0.95, "nor is it known to be full"
    judgement = judge_charging(state)
    assert not {"charging_weak", "charging_none"} & {each.name for each in judgement.findings}
    line = next(each for each in judgement.lines if each.title == "Battery volts at test speed")
    assert line.verdict == "no_limit"
    assert "the data of the battery's maker say" in line.sentence


def test_a_range_of_its_maker_is_used_as_any_other() -> None:
    machine = of("lithium", charging_voltage_v=(14.0, 14.6))
    state = given(machine=machine, rest_voltage=13.3, voltage_work=15.2, current_work=3.0)
    line = next(each for each in judge_charging(state).lines if each.title == "Battery volts at test speed")
    assert line.verdict == "fail"
    assert holds_back(given(machine=machine, rest_voltage=13.3, voltage_work=14.3)) > 0.95


def test_no_hours_are_stated() -> None:
    values = {"rest_voltage": 12.4, "current_work": -3.0, "current_idle": -4.0, "load_current": 6.0}
    card = of("flooded", charging_voltage_v=(13.5, 14.8))
    flooded = charge_budget(given(machine=card, **values))
    lithium = charge_budget(given(machine=of("lithium", charging_voltage_v=(13.5, 14.8)), **values))
    assert flooded is not None
    assert lithium is not None
    assert (flooded.hours is None, lithium.hours is None) == (False, True)
    assert (flooded.carries, lithium.carries) == ("no", "no"), "amps are amps"


@pytest.mark.parametrize("chemistry", OTHERS)
def test_the_tables_refuse_it(chemistry: Chemistry) -> None:
    battery = BatteryCard(chemistry=chemistry)
    with pytest.raises(ValueError, match="lead-acid"):
        charge_band(13.3, 0.01, battery)
    with pytest.raises(ValueError, match="no usual exponent"):
        exponent_of(battery)
    assert exponent_of(BatteryCard(chemistry=chemistry, peukert_exponent=1.05))[0] == 1.05


def test_what_is_left_out_is_told_with_the_card() -> None:
    said = open_points(of("lithium"))
    assert any("is no lead-acid one" in each and "Its maker's data" in each for each in said)
    assert any(
        each.startswith("Put the charging volts of the battery's maker into the card") for each in said
    )
    assert not any("lead-acid" in each for each in open_points(of("gel")))
    assert not any(
        "Put the charging volts" in each
        for each in open_points(of("lithium", charging_voltage_v=(14.0, 14.6)))
    )


def test_its_rest_volts_are_no_sign_of_charging() -> None:
    """It rests where a lead-acid battery is charged."""
    low, _ = _charging_band(of("lithium"))
    assert low > 100.0
    low, high = _charging_band(of("lithium", charging_voltage_v=(14.0, 14.6)))
    assert low <= 14.0 < high
    assert _charging_band(of("agm"))[0] == pytest.approx(13.3)
