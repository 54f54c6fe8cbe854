"""Judges of battery, loads, charging, AC output, regulator-rectifier and wiring."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from daq.cards.machine import MachineCard
from daq.cards.machine_parts import AlternatorClass, BatteryCard
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.evidence.typed import typed_observation
from daq.job.judging.ac_output import judge_ac_output
from daq.job.judging.battery_rest import judge_battery_rest
from daq.job.judging.charging import judge_charging
from daq.job.judging.judge_step import judge_step
from daq.job.judging.loads import judge_loads
from daq.job.judging.rectifier import judge_rectifier
from daq.job.judging.verdicts import StepJudgement
from daq.job.judging.wiring import judge_wiring
from tests.daq.job.builders import CART, given, observed, rated, slot_of, step_of


def strengths(judgement: StepJudgement) -> dict[str, float]:
    return {finding.name: finding.strength for finding in judgement.findings}


@pytest.mark.parametrize(
    ("volts", "verdict", "found"),
    [(12.6, "pass", "battery_charged"), (11.9, "fail", "battery_low"), (10.2, "fail", "battery_dead_cell")],
)
def test_battery_at_rest(volts: float, verdict: str, found: str) -> None:
    judgement = judge_battery_rest(given(rest_voltage=volts, battery_temperature=20.0))
    assert judgement.verdict == verdict
    assert strengths(judgement)[found] > 0.9
    assert ("charged" if volts > 11.0 else "empty") in judgement.lines[0].reading


@pytest.mark.parametrize(
    ("text", "temperature", "advice"),
    [
        (
            "12.3",
            None,
            "read again with two decimals, on a lower range of the dial and read the battery's temperature",
        ),
        ("12.3", "20", "read again with two decimals, on a lower range of the dial."),
        ("12", "20", "read again with two decimals, on a lower range of the dial."),
    ],
)
def test_one_decimal_is_no_state_of_charge_and_says_what_would_be(
    text: str, temperature: str | None, advice: str
) -> None:
    """B1 to B4: 12.3 V exactly is 54 to 71 %, but a step of 0.1 V is a quarter of the table."""
    readings = [typed_observation(text, slot_of("rest_voltage"), CART)]
    if temperature is not None:
        readings.append(typed_observation(temperature, slot_of("battery_temperature"), CART))
    (line,) = judge_battery_rest(given(*readings)).lines
    assert line.verdict == "too_close"
    assert "no state of charge can be told" in line.sentence
    assert advice in line.sentence
    assert "good enough" not in line.sentence
    if temperature is None:
        assert "Taken as exact these volts would be 54 to 71 % charged" in line.sentence


def test_two_decimals_are_a_state_of_charge() -> None:
    (line,) = judge_battery_rest(given(typed_observation("12.61", slot_of("rest_voltage"), CART))).lines
    assert line.verdict == "pass"
    assert line.reading == "12.61 ± 0.12 V, 68 to 100 % charged"


def test_where_decimals_are_not_the_reason_the_chemistry_or_the_meter_is_named() -> None:
    unknown = replace(CART, battery=BatteryCard(nominal_voltage_v=12))
    reading = observed("rest_voltage", 12.3, 0.06)
    (line,) = judge_battery_rest(given(reading, machine=unknown, battery_temperature=20.0)).lines
    assert "put the battery's chemistry into the machine card" in line.sentence
    assert "decimals" not in line.sentence
    rough = observed("rest_voltage", 12.3, 0.2)
    (line,) = judge_battery_rest(given(rough, battery_temperature=20.0)).lines
    assert line.sentence.endswith("read again with a meter whose card states a smaller error.")


def test_without_a_battery_in_the_card_volts_are_no_state_of_charge() -> None:
    judgement = judge_battery_rest(given(machine=replace(CART, battery=None), rest_voltage=12.6))
    assert judgement.verdict == "no_limit"


@pytest.mark.parametrize(
    ("amps", "verdict", "found"),
    [
        (6.1, "pass", "loads_within_card"),
        (14.0, "fail", "loads_above_card"),
        (0.02, "not_judged", "loads_dead"),
    ],
)
def test_loads_against_the_cards_sum(amps: float, verdict: str, found: str) -> None:
    judgement = judge_loads(given(load_current=amps))
    assert judgement.verdict == verdict
    assert strengths(judgement)[found] > 0.95


def test_a_battery_that_gives_way_under_its_loads() -> None:
    weak = judge_loads(given(rest_voltage=12.5, load_current=6.0, loaded_voltage=10.9))
    assert weak.verdict == "fail"
    assert strengths(weak)["battery_sags"] > 0.95
    sound = judge_loads(given(rest_voltage=12.5, load_current=6.0, loaded_voltage=12.2))
    assert sound.verdict == "pass"


def test_a_battery_that_gains_clears_the_charging_system() -> None:
    judgement = judge_charging(
        given(rest_voltage=12.4, voltage_work=13.9, current_work=4.0, load_current=6.0, governed_speed=3590.0)
    )
    assert judgement.verdict == "pass"
    found = strengths(judgement)
    assert min(found["charging_good"], found["volts_rise"], found["speed_at_test"]) > 0.95


def test_a_battery_that_loses_with_and_without_help_of_the_alternator() -> None:
    dead = strengths(judge_charging(given(current_work=-6.0, load_current=6.0)))
    weak = strengths(judge_charging(given(current_work=-3.0, load_current=6.0)))
    assert dead["charging_none"] > 0.9
    assert weak["charging_weak"] > 0.9
    assert "charging_none" not in weak


def test_amps_around_nothing_are_too_close_to_call() -> None:
    judgement = judge_charging(given(observed("current_work", 0.02, 0.1)))
    assert judgement.verdict == "too_close"


def test_volts_over_the_most_allowed_are_the_regulators_fault() -> None:
    judgement = judge_charging(given(rest_voltage=12.4, voltage_work=15.9))
    assert judgement.verdict == "fail"
    assert strengths(judgement)["overcharging"] > 0.95


def test_an_engine_too_fast_or_too_slow() -> None:
    assert strengths(judge_charging(given(governed_speed=3100.0)))["speed_below_test"] > 0.95
    fast = judge_charging(given(governed_speed=4100.0))
    assert fast.verdict == "fail"
    assert "have the governor set" in fast.lines[0].sentence


@pytest.mark.parametrize(
    ("volts", "verdict", "found"),
    [(28.0, "pass", "ac_good"), (16.0, "fail", "ac_low"), (0.01, "fail", "ac_none")],
)
def test_ac_output_against_the_cards_least(volts: float, verdict: str, found: str) -> None:
    judgement = judge_ac_output(given(rated(volts)))
    assert judgement.verdict == verdict
    assert strengths(judgement)[found] > 0.99


def test_ac_output_too_close_and_without_a_limit() -> None:
    assert judge_ac_output(given(rated(20.02))).verdict == "too_close"
    open_card = replace(CART, minimum_ac_voltage_v=None)
    judgement = judge_ac_output(given(rated(20.02), machine=open_card))
    assert judgement.verdict == "no_limit"
    assert "the service manual does" in judgement.lines[0].sentence


def test_ac_output_that_can_not_be_stated_is_not_judged() -> None:
    judgement = judge_ac_output(given(rated(None, reasons=("A load is still connected.",))))
    assert judgement.verdict == "not_judged"
    assert "A load is still connected." in judgement.lines[0].sentence


def test_bent_and_straight_volts_against_speed() -> None:
    bent = judge_ac_output(given(rated(18.0, offset_v=0.8, u_offset_v=0.05)))
    straight = judge_ac_output(given(rated(16.0, offset_v=0.02, u_offset_v=0.05)))
    assert strengths(bent)["ac_bends"] > 0.99
    assert strengths(straight)["ac_straight"] > 0.99
    assert "shorted turns" in bent.lines[-1].sentence


def test_dropouts_fail_a_run_whose_mean_is_good() -> None:
    judgement = judge_ac_output(given(rated(28.0, dropouts=3, dropout_s=1.2)))
    assert judgement.verdict == "fail"
    assert strengths(judgement)["ac_dropouts"] == 1.0


def test_the_regulator_holding_back_is_no_fault() -> None:
    full = judge_rectifier(given(output_current=4.0, voltage_work=14.3))
    assert full.verdict == "too_close"
    assert "the regulator holds back" in full.lines[0].sentence
    assert "rectified_low" not in strengths(full)
    low = judge_rectifier(given(output_current=4.0, voltage_work=12.6))
    assert low.verdict == "fail"
    assert strengths(low)["rectified_low"] > 0.95


def test_amps_at_too_low_a_speed_are_not_held_against_it() -> None:
    judgement = judge_rectifier(given(observed("output_current", 7.0, speed_rpm=3100.0)))
    assert judgement.verdict == "too_close"
    assert "3100 rpm only" in judgement.lines[0].sentence


BATTERY = {"rest_voltage": 12.4, "loaded_voltage": 12.16, "load_current": 6.0}
"""0.04 ohm."""


@pytest.mark.parametrize(
    ("form", "verdict"),
    [(0.30, "pass"), (0.48 * 0.8, "pass"), (0.48, "pass"), (1.21 * 0.9, "fail"), (0.62, "too_close")],
)
def test_ripple_is_judged_by_the_form_of_its_current(form: float, verdict: str) -> None:
    ripple = form * 0.04 * 10.0
    judgement = judge_rectifier(
        given(*(observed(k, v) for k, v in BATTERY.items()), output_current=10.0, ripple_voltage=ripple)
    )
    line = next(line for line in judgement.lines if line.title.startswith("Ripple"))
    assert line.verdict == verdict


def test_ripple_without_current_or_over_half_a_volt() -> None:
    idle = judge_rectifier(
        given(*(observed(k, v) for k, v in BATTERY.items()), output_current=0.1, ripple_voltage=0.01)
    )
    assert "hardly any current" in idle.lines[-1].sentence
    much = judge_rectifier(given(ripple_voltage=0.9))
    assert much.verdict == "fail"


def test_a_stator_that_meets_a_dead_end_keeps_its_volts() -> None:
    dead = strengths(judge_rectifier(given(rated(28.0), plugged_in_voltage=27.9)))
    live = strengths(judge_rectifier(given(rated(28.0), plugged_in_voltage=15.0)))
    assert dead["stator_unloaded"] > 0.95
    assert live["stator_loaded"] > 0.95


def test_wiring_terminal_fuse_and_drop() -> None:
    good = judge_wiring(
        given(
            rest_voltage=12.4,
            terminal_voltage=12.3,
            drop_voltage=0.2,
            output_current=10.0,
            fuse_resistance=0.1,
        )
    )
    assert good.verdict == "pass"
    bad = strengths(judge_wiring(given(rest_voltage=12.4, terminal_voltage=0.1, fuse_resistance=None)))
    assert bad["terminal_dead"] == bad["fuse_open"] == 1.0
    drop = judge_wiring(given(drop_voltage=1.4, output_current=6.0))
    assert drop.verdict == "fail"
    assert strengths(drop)["drop_large"] > 0.95


def test_a_drop_without_current_says_nothing() -> None:
    judgement = judge_wiring(given(drop_voltage=0.01, output_current=0.1))
    assert judgement.verdict == "not_judged"
    assert judgement.findings == ()


def test_readings_with_troubles_become_lines_of_their_own_and_slips_a_finding() -> None:
    slip = observed(
        "load_current", 900.0, troubles=(Trouble(TroubleKind.CANNOT_BE_TRUE, "900 A? Kept, not judged."),)
    )
    cut = observed("loaded_voltage", 12.0, troubles=(Trouble(TroubleKind.CUT_SHORT, "It stopped."),))
    judgement = judge_step(step_of("loads"), given(), [slip, cut])
    assert [line.verdict for line in judgement.lines] == ["not_judged", "cut_short"]
    assert judgement.verdict == "cut_short"
    assert strengths(judgement) == {"reading_impossible": 1.0}
    assert judgement.lines[0].reading.startswith("900")


def test_volts_of_another_battery_are_judged_by_its_own_scale() -> None:
    machine = replace(CART, battery=BatteryCard(nominal_voltage_v=24, chemistry="flooded"))
    assert judge_battery_rest(given(machine=machine, rest_voltage=25.2)).verdict == "pass"
    assert "battery_dead_cell" in strengths(judge_battery_rest(given(machine=machine, rest_voltage=21.0)))
    sag = judge_loads(given(machine=machine, rest_voltage=25.0, loaded_voltage=23.5, load_current=6.0))
    assert sag.verdict == "pass"


def test_the_batterys_resistance_by_its_sag() -> None:
    found = given(rest_voltage=12.4, loaded_voltage=12.1, load_current=6.0).battery_ohm
    assert found is not None
    assert found.value == pytest.approx(0.05)
    assert found.u == pytest.approx(0.05 * (2 * 0.01**2) ** 0.5 / 0.3)
    assert given(rest_voltage=12.4, loaded_voltage=12.5, load_current=6.0).battery_ohm is None
    assert given(rest_voltage=12.4, loaded_voltage=12.1, load_current=0.1).battery_ohm is None


def test_the_alternators_share_is_what_battery_and_loads_take() -> None:
    found = given(observed("current_work", -2.0, 0.1), observed("load_current", 6.0, 0.2)).contribution
    assert found is not None
    assert found.value == pytest.approx(4.0)
    assert found.u == pytest.approx((0.1**2 + 0.2**2 + 0.6**2 / 3) ** 0.5)


def test_amps_just_under_the_test_speeds_tolerance_are_not_excused() -> None:
    near = judge_rectifier(given(observed("output_current", 7.0, speed_rpm=3510.0)))
    assert near.verdict == "fail"


def test_a_share_that_is_not_sure_is_split_between_weak_and_none() -> None:
    found = strengths(
        judge_charging(given(observed("current_work", -5.5, 0.01), observed("load_current", 6.0, 0.01)))
    )
    assert found["charging_none"] + found["charging_weak"] == pytest.approx(1.0)
    assert found["charging_none"] == pytest.approx(0.5, abs=0.02)


def test_without_the_loads_a_loss_says_half_as_much() -> None:
    assert strengths(judge_charging(given(current_work=-4.0)))["charging_weak"] == pytest.approx(
        0.5, abs=0.01
    )


def test_volts_that_fall_while_amps_flow_in() -> None:
    found = strengths(judge_charging(given(rest_voltage=12.6, voltage_work=12.2, current_work=4.0)))
    assert found["volts_fall"] > 0.95
    little = strengths(judge_charging(given(rest_voltage=12.6, voltage_work=12.45, current_work=4.0)))
    assert little.get("volts_fall", 0.0) < 0.05


def test_one_dropout_is_less_sure_than_two() -> None:
    once = judge_ac_output(given(rated(28.0, dropouts=1, dropout_s=0.4)))
    assert once.lines[1].reading == "once"
    assert strengths(once)["ac_dropouts"] == pytest.approx(0.7)


def test_doubt_in_the_ripple_keeps_it_from_being_condemned() -> None:
    sharp = strengths(
        judge_rectifier(
            given(*(observed(k, v) for k, v in BATTERY.items()), output_current=10.0, ripple_voltage=0.4)
        )
    )
    vague = [observed("ripple_voltage", 0.4, 0.3), *(observed(k, v) for k, v in BATTERY.items())]
    doubtful = strengths(judge_rectifier(given(*vague, output_current=10.0)))
    assert sharp["ripple_high"] > 0.85 > doubtful["ripple_high"]


def test_what_happens_at_idle_is_told_and_not_judged() -> None:
    for amps, word in ((2.0, "gains"), (-2.0, "loses")):
        judgement = judge_charging(given(current_idle=amps))
        assert judgement.verdict == "no_limit"
        assert f"the battery {word}" in judgement.lines[0].sentence


def test_the_stators_volts_under_load_are_told_in_words() -> None:
    dead = judge_rectifier(given(rated(28.0), plugged_in_voltage=27.9)).lines[0]
    live = judge_rectifier(given(rated(28.0), plugged_in_voltage=15.0)).lines[0]
    assert "keeps its open volts" in dead.sentence
    assert "the regulator-rectifier draws on it" in live.sentence
    assert "54 % of the unloaded volts" in live.reading


def test_without_readings_there_is_nothing_to_judge() -> None:
    for judge in (
        judge_ac_output,
        judge_battery_rest,
        judge_charging,
        judge_loads,
        judge_rectifier,
        judge_wiring,
    ):
        assert judge(given()).verdict == "not_judged"
        assert judge(given()).lines == ()
    assert judge_ac_output(given(observed("output", 20.0))).verdict == "not_judged"


def test_ripple_of_both_half_waves_on_a_soft_battery_is_the_batterys() -> None:
    """0.25 ohm: 1.2 V of ripple are what a full wave of 10 A makes on it."""
    judgement = judge_rectifier(
        given(
            rest_voltage=12.4,
            loaded_voltage=10.9,
            load_current=6.0,
            output_current=10.0,
            ripple_voltage=1.0,
        )
    )
    found = strengths(judgement)
    assert found["ripple_of_battery"] > 0.7
    assert found.get("ripple_high", 0.0) < 0.3
    assert "the battery does not smooth them" in judgement.lines[1].sentence


@pytest.mark.parametrize(("volts", "even"), [(0.02, True), (-0.3, True), (2.4, False), (-2.2, False)])
def test_dc_across_the_plugged_in_stator_shows_a_missing_half_wave(volts: float, *, even: bool) -> None:
    """10 A through 0.2525 ohm, the middle of the card's range, would leave 2.5 V if they flowed one way only."""
    judgement = judge_rectifier(given(output_current=10.0, plugged_in_dc_voltage=volts))
    found = strengths(judgement)
    name = "half_waves_even" if even else "half_waves_missing"
    assert found[name] > 0.8
    line = next(line for line in judgement.lines if line.title.startswith("DC volts"))
    assert line.verdict == ("pass" if even else "fail") or (volts == -0.3 and line.verdict == "too_close")


def test_dc_across_the_stator_says_nothing_where_nothing_flows() -> None:
    judgement = judge_rectifier(given(output_current=0.0, plugged_in_dc_voltage=0.0))
    assert "half_waves_even" not in strengths(judgement)
    assert judgement.lines[-1].verdict == "no_limit"


def test_the_batterys_volts_against_a_dead_terminal_are_no_drop() -> None:
    judgement = judge_wiring(given(drop_voltage=-12.3))
    assert strengths(judgement) == {"terminal_dead": 1.0}
    assert judgement.verdict == "fail"


@pytest.mark.parametrize(
    ("amps", "said"),
    [
        (0.004, "neither gains nor loses, within the reading"),
        (-0.004, "neither gains nor loses, within the reading"),
        (0.3, "the battery gains."),
        (-0.3, "the battery loses."),
    ],
)
def test_amps_at_idle_that_may_be_none_are_no_gain(amps: float, said: str) -> None:
    (line,) = judge_charging(given(current_idle=amps)).lines
    assert said in line.sentence


@pytest.mark.parametrize(("volts", "said"), [(13.3, "fully charged"), (9.0, "empty"), (12.4, "% charged")])
def test_a_battery_is_fully_charged_or_empty(volts: float, said: str) -> None:
    (line,) = judge_battery_rest(given(rest_voltage=volts, battery_temperature=26.7)).lines
    assert line.reading.endswith(said)
    assert "full charged" not in line.sentence
    assert "empty charged" not in line.sentence


@pytest.mark.parametrize(("volts", "below"), [(3.0, True), (8.0, True), (9.0, False), (16.0, False)])
def test_ac_whose_peak_is_under_the_batterys_volts_can_not_charge(volts: float, below: bool) -> None:
    found = strengths(judge_ac_output(given(rated(volts))))
    assert (found.get("ac_below_battery", 0.0) > 0.5) is below


def test_loads_read_with_the_leads_turned_are_told() -> None:
    (line,) = judge_loads(given(load_current=-6.1)).lines
    assert line.verdict == "pass"
    assert "The meter read -6.1 A: its leads are the other way round" in line.sentence
    (line,) = judge_loads(given(load_current=6.1)).lines
    assert "other way round" not in line.sentence


@pytest.mark.parametrize(
    ("amps", "capacity_ah", "loaded_v", "verdict"),
    [
        (1.4, 18.0, 12.4, "pass"),
        (1.4, 18.0, 12.1, "fail"),
        (6.0, 18.0, 11.7, "pass"),
        (14.0, 18.0, 11.7, "pass"),
        (1.4, None, 12.1, "pass"),
    ],
)
def test_a_small_load_may_pull_the_battery_down_by_less(
    amps: float, capacity_ah: float | None, loaded_v: float, verdict: str
) -> None:
    battery = BatteryCard(nominal_voltage_v=12, capacity_ah=capacity_ah, chemistry="flooded")
    card = replace(CART, battery=battery, load=())
    readings = given(machine=card, rest_voltage=12.5, load_current=amps, loaded_voltage=loaded_v)
    line = next(each for each in judge_loads(readings).lines if each.title == "Battery under load")
    assert line.verdict == verdict
    if verdict == "fail":
        assert line.limit.startswith(
            "at most 0.23 V within five seconds (1 V at a load of a third of its capacity"
        )


def test_half_waves_are_no_fault_of_split_circuits_and_their_ripple_is_not_judged() -> None:
    def found(machine: MachineCard) -> StepJudgement:
        return judge_rectifier(
            given(
                machine=machine,
                rest_voltage=12.5,
                load_current=4.0,
                loaded_voltage=12.3,
                ripple_voltage=0.6,
                output_current=9.5,
                plugged_in_dc_voltage=2.3,
                winding_resistance=0.25,
            )
        )

    assert {"ripple_high", "half_waves_missing"} <= set(strengths(found(CART)))
    judgement = found(replace(CART, alternator=AlternatorClass.SPLIT))
    assert not {"ripple_high", "half_waves_missing"} & set(strengths(judgement))
    (ripple,) = [line for line in judgement.lines if line.title == "Ripple at the battery"]
    assert ripple.verdict == "no_limit"


def test_a_dc_only_alternator_that_overcharges_has_no_regulator_to_blame() -> None:
    card = replace(CART, alternator=AlternatorClass.DC_ONLY)
    sentence = judge_charging(given(machine=card, voltage_work=15.6)).lines[-1].sentence
    assert "nothing holds them back on this kind" in sentence
    assert "the regulator does not hold" in judge_charging(given(voltage_work=15.6)).lines[-1].sentence


def test_the_highest_speed_of_an_ac_only_run_says_whether_the_engine_gets_there() -> None:
    card = replace(CART, alternator=AlternatorClass.AC_ONLY)
    slow, fast = (
        judge_ac_output(given(rated(24.0, highest_speed_rpm=rpm), machine=card)) for rpm in (3150.0, 3590.0)
    )
    assert strengths(slow)["speed_below_test"] == 1.0
    assert strengths(fast)["speed_at_test"] == 1.0
    assert "speed_at_test" not in strengths(judge_ac_output(given(rated(24.0, highest_speed_rpm=3590.0))))
