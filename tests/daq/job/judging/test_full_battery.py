"""A sound machine whose battery is full: the regulator holds back, and nothing is at fault."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest
from msgspec.structs import replace

from daq.cards.machine_parts import AlternatorClass
from daq.catalog import machine_card
from daq.job.charge.budget import charge_budget
from daq.job.charge.budget_words import budget_lines
from daq.job.judging.charging import judge_charging
from daq.job.judging.held_back import holds_back
from daq.job.judging.rectifier import judge_rectifier
from daq.job.judging.verdicts import telling
from daq.job.status import JobStatus
from daq.job.summary_answer import answer_of
from tests.daq.job.builders import CART, given, observed
from tests.daq.job.typed_sheet import line_of, typed_status

FULL = {
    "rest_voltage": "12.75",
    "loaded_voltage": "12.45",
    "voltage_work": "14.40",
    "current_work": "0.00",
    "output_current": "6.20",
    "ripple_voltage": "0.17",
}


def full(**texts: str) -> JobStatus:
    return typed_status(machine_card("nursery-sprayer"), **{**FULL, **texts})


@pytest.mark.parametrize(
    "texts",
    [
        {},
        {"current_work": "-0.05", "output_current": "6.15"},
        {"current_work": "-0.10", "output_current": "6.10"},
        {"current_work": "0.30", "output_current": "6.50"},
        {"voltage_work": "13.49", "current_work": "0.30", "output_current": "6.5", "ripple_voltage": "0.15"},
        {"voltage_work": "13.40", "current_work": "0.30", "output_current": "6.5", "ripple_voltage": "0.25"},
        {"current_work": "0.30", "output_current": "0.30"},  # with the loads off
    ],
)
def test_no_fault_and_no_failed_test(texts: dict[str, str]) -> None:
    status = full(**texts)
    assert status.diagnosis.leading is None
    assert "fail" not in {each.state for each in status.steps}
    assert answer_of(status).carries != "no"
    assert "does not carry" not in answer_of(status).headline


def test_amps_about_nothing_at_held_volts_are_a_full_battery() -> None:
    line = line_of(full(current_work="-0.05"), "charging", "Amps into the battery at test speed")
    assert line.verdict == "too_close"
    assert "the battery is nearly full" in line.sentence
    assert "loses" not in line.sentence


def test_clear_loss_at_held_volts_can_not_be_true_and_blames_no_part() -> None:
    (line,) = judge_charging(given(voltage_work=14.4, current_work=-3.0)).lines[:1]
    assert line.verdict == "not_judged"
    assert "the other way round" in line.sentence
    status = full(current_work="-3.00")
    leading = status.diagnosis.leading
    assert leading is not None
    assert leading.name == "instrument_error"


def test_a_loss_at_low_volts_is_a_loss_as_before() -> None:
    status = full(voltage_work="12.60", current_work="-3.00", output_current="3.2")
    line = line_of(status, "charging", "Amps into the battery at test speed")
    assert line.verdict == "fail"
    assert answer_of(status).carries == "no"


def test_the_budget_of_a_held_back_output_says_at_least() -> None:
    budget = full().budget
    assert budget is not None
    assert budget.at_least_only
    assert budget.carries == "not_known"
    lines = budget_lines(budget)
    assert "at least" in lines[0]
    assert "with 30 % idling it loses" not in lines[0]
    assert not any(line.startswith("Without") for line in lines)
    assert not any("flat in" in line for line in lines)
    assert "It breaks even at 3500 ± 150 rpm or below: the regulator held back." in lines
    assert "Chance that it gains over the day: 0.3 % at least." in lines


def test_idling_alone_is_not_excused_by_what_was_held_back_at_work() -> None:
    card = machine_card("nursery-sprayer")
    assert card.duty is not None
    idling = replace(card, duty=replace(card.duty, idle_share=1.0))
    budget = typed_status(idling, **FULL).budget
    assert budget is not None
    assert budget.carries == "no"


@pytest.mark.parametrize(
    ("volts", "u", "held"),
    [(14.2, 0.06, 1.0), (13.5, 0.06, 0.5), (13.2, 0.06, 0.0), (15.2, 0.06, 0.0)],
)
def test_how_sure_it_is_that_the_regulator_holds_back(volts: float, u: float, held: float) -> None:
    assert holds_back(given(observed("voltage_work", volts, u))) == pytest.approx(held, abs=0.001)


def test_volts_that_do_not_rise_over_those_at_rest_are_not_held_back() -> None:
    assert holds_back(given(voltage_work=13.6, rest_voltage=13.7)) == pytest.approx(0.0, abs=0.001)


@pytest.mark.parametrize("alternator", [AlternatorClass.REGULATED, AlternatorClass.DC_ONLY])
def test_a_card_without_charging_volts_takes_the_usual_ones(alternator: AlternatorClass) -> None:
    card = replace(CART, charging_voltage_v=None, alternator=alternator)
    readings = given(
        observed("current_work", -0.1, 0.03),
        machine=card,
        voltage_work=14.2,
        rest_voltage=12.7,
        load_current=6.0,
    )
    assert holds_back(readings) == pytest.approx(0.0 if alternator is AlternatorClass.DC_ONLY else 1.0)
    judgement = judge_charging(readings)
    assert judgement.lines[0].verdict == "too_close"
    assert not {"charging_weak", "charging_none"} & {finding.name for finding in judgement.findings}
    low = given(observed("current_work", -0.1, 0.03), machine=card, voltage_work=12.9, rest_voltage=12.7)
    assert judge_charging(low).lines[0].verdict == "fail"


@pytest.mark.parametrize(("volts", "verdict"), [(13.49, "too_close"), (13.40, "too_close"), (13.3, "fail")])
def test_the_excuse_has_no_cliff(volts: float, verdict: str) -> None:
    judgement = judge_rectifier(given(observed("voltage_work", volts, 0.061), output_current=4.0))
    assert judgement.verdict == verdict
    named = {finding.name for finding in judgement.findings}
    assert ("rectified_low" in named) is (verdict == "fail")


def test_what_is_even_says_nothing_and_what_is_sure_says_all() -> None:
    assert telling(0.5) == telling(0.2) == 0.0
    assert telling(0.95) == pytest.approx(0.95)
    assert telling(0.725) == pytest.approx(0.725 * 0.5)


def test_half_and_half_whether_a_battery_gains_points_at_nothing() -> None:
    """0.0 ± 0.6 A with nothing known of the volts: no sign of a weak charge."""
    budget = charge_budget(given(observed("current_work", 0.0, 0.3, speed_rpm=3600.0), load_current=6.0))
    assert budget is not None
    status = full(current_work="0.0", voltage_work="13.0", output_current="9.9")
    names = {finding.name for finding in status.diagnosis.findings}
    assert not {"charging_weak", "charging_none"} & names


def sound_full_cart(random: Random) -> dict[str, str]:
    """What a meter of the usual limits shows on a sound cart whose battery is full: full waves, volts held."""

    def dc_v(volts: float) -> str:
        return f"{volts * volts_gain + 0.03 * random.uniform(-1.0, 1.0):.2f}"

    def dc_a(amps: float) -> str:
        return f"{amps * amps_gain + 0.05 * random.uniform(-1.0, 1.0):.2f}"

    volts_gain, amps_gain = 1.0 + random.uniform(-0.008, 0.008), 1.0 + random.uniform(-0.02, 0.02)
    ohm, loads_a, into_a = (
        random.uniform(0.03, 0.08),
        random.uniform(5.6, 6.4),
        random.choice([0.0, 0.2, 1.0]),
    )
    rest_v, ripple_v = random.uniform(12.6, 12.85), 0.48 * (loads_a + into_a) * ohm
    return {
        "rest_voltage": dc_v(rest_v),
        "loaded_voltage": dc_v(rest_v - loads_a * ohm * random.uniform(1.0, 1.4)),
        "voltage_work": dc_v(random.uniform(13.55, 14.6)),
        "load_current": dc_a(loads_a),
        "current_work": dc_a(into_a),
        "output_current": dc_a(loads_a + into_a),
        "ripple_voltage": f"{ripple_v * random.uniform(0.985, 1.015) + 0.05 * random.uniform(-1.0, 1.0):.2f}",
    }


def test_two_hundred_sound_carts_with_full_batteries_and_a_usual_meter() -> None:
    random, card = Random(5), machine_card("nursery-sprayer")
    counts: Counter[str] = Counter()
    for _ in range(200):
        status = typed_status(card, **sound_full_cart(random))
        leading = status.diagnosis.leading
        counts["none" if leading is None else leading.name] += 1
        counts.update(f"{each.step.name} fails" for each in status.steps if each.state == "fail")
        assert status.budget is not None
        counts[status.budget.carries] += 1
    assert counts["none"] == 200, counts
    assert {name for name in counts if name.endswith("fails")} == set()
    assert counts["no"] == 0
    assert counts["yes"] > 50  # and not for want of saying anything
