"""Readings near a limit: verdict, sentence and findings say the same, and none condemns what is not sure."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from daq.cards.machine_parts import BatteryCard
from daq.catalog import machine_card
from daq.job.evidence.observed import Observed
from daq.job.judging.battery_rest import judge_battery_rest
from daq.job.judging.charging import judge_charging
from daq.job.judging.loads import judge_loads
from daq.job.judging.rectifier import judge_rectifier
from daq.job.judging.verdicts import Line, StepJudgement
from daq.job.judging.winding import judge_resistance
from daq.job.judging.wiring import judge_wiring
from tests.daq.job.builders import CART, given, observed, rated
from tests.daq.job.typed_sheet import line_of, typed_status
from tui.jobtext import next_lines

SPRAYER = machine_card("nursery-sprayer")


def strengths(judgement: StepJudgement) -> dict[str, float]:
    return {finding.name: finding.strength for finding in judgement.findings}


def line(judgement: StepJudgement, title: str) -> Line:
    return next(each for each in judgement.lines if each.title.startswith(title))


@pytest.mark.parametrize(
    ("ohm", "u", "verdict"),
    [
        (0.2, 0.3, "too_close"),
        (0.0, 0.4, "too_close"),
        (0.25, 0.03, "too_close"),
        (0.22, 0.02, "too_close"),
        (0.2, 0.02, "fail"),
        (0.31, 0.02, "fail"),
    ],
)
def test_a_winding_fails_only_where_low_or_high_is_sure(ohm: float, u: float, verdict: str) -> None:
    """Beyond 0.235 to 0.27 ohm with 95 % on one side."""
    judgement = judge_resistance(
        given(
            observed("winding_resistance", ohm, u),
            observed("lead_resistance", 0.0, 0.0),
            observed("winding_temperature", 20.0, 0.1),
        )
    )
    assert judgement.verdict == verdict
    if verdict == "too_close":
        assert "too close" in judgement.lines[0].sentence
    low, high = (strengths(judgement).get(name, 0.0) for name in ("winding_low", "winding_high"))
    if u > 0.1:
        assert max(low, high) < 0.5  # may be either
    assert min(low, high) == 0.0


@pytest.mark.parametrize(
    "texts",
    [
        {"winding_resistance": "1", "lead_resistance": "1"},
        {"winding_resistance": "0", "lead_resistance": "0"},
        {"winding_resistance": "0.3", "lead_resistance": "0.1"},
    ],
)
def test_ohms_read_too_coarsely_blame_no_winding(texts: dict[str, str]) -> None:
    status = typed_status(SPRAYER, **texts)
    assert status.step("winding_resistance").state == "too_close"
    assert status.diagnosis.leading is None


CLOSE: list[tuple[str, StepJudgement]] = [
    ("Drop", judge_wiring(given(observed("drop_voltage", 0.48, 0.02), output_current=10.0))),
    ("Drop", judge_wiring(given(observed("drop_voltage", 0.52, 0.02), output_current=10.0))),
    (
        "Battery under load",
        judge_loads(given(observed("rest_voltage", 12.5, 0.14), observed("loaded_voltage", 11.6, 0.14))),
    ),
    ("DC volts", judge_rectifier(given(observed("plugged_in_dc_voltage", 0.9, 0.2), output_current=10.0))),
    ("DC volts", judge_rectifier(given(observed("plugged_in_dc_voltage", 0.8, 0.2), output_current=10.0))),
    ("Battery volts", judge_charging(given(observed("voltage_work", 14.79, 0.06)))),
    ("Battery volts", judge_charging(given(observed("voltage_work", 14.83, 0.06)))),
    ("Engine speed", judge_charging(given(observed("governed_speed", 3499.0, 3.0)))),
    ("Engine speed", judge_charging(given(observed("governed_speed", 3701.0, 3.0)))),
    ("Loads", judge_loads(given(observed("load_current", 6.6, 0.3)))),
    ("Volts at the output", judge_wiring(given(rest_voltage=12.4, terminal_voltage=7.0))),
    ("Charging fuse", judge_wiring(given(observed("fuse_resistance", 0.9, 0.4)))),
    ("Ripple", judge_rectifier(given(observed("ripple_voltage", 0.5, 0.1), output_current=10.0))),
]


@pytest.mark.parametrize(("title", "judgement"), CLOSE)
def test_what_is_too_close_is_said_to_be(title: str, judgement: StepJudgement) -> None:
    found = line(judgement, title)
    assert found.verdict == "too_close"
    assert "too close" in found.sentence
    for certain in ("is bad", "than a sound one should", "one diode is open", "is open.", "does not hold"):
        assert certain not in found.sentence
    assert "are whole" not in found.sentence


@pytest.mark.parametrize(
    ("amps", "u", "verdict"),
    [
        (0.0, 0.3, "not_judged"),
        (3.0, 0.3, "not_judged"),
        (4.2, 0.3, "too_close"),
        (5.0, 0.3, "pass"),
        (6.0, 0.1, "pass"),
    ],
)
def test_loads_far_under_the_list_are_not_the_lists(amps: float, u: float, verdict: str) -> None:
    """6 A are listed; under seven tenths of it not all of them were on."""
    judgement = judge_loads(given(observed("load_current", amps, u)))
    found = line(judgement, "Loads")
    assert found.verdict == verdict
    assert ("as the card's list says" in found.sentence) is (verdict == "pass")
    if verdict == "not_judged":
        assert "not all of them were on" in found.sentence
        assert "6 A" in found.sentence
        assert "loads_within_card" not in strengths(judgement)


def test_a_drop_read_with_the_leads_turned_is_told() -> None:
    status = typed_status(SPRAYER, drop_voltage="-0.20")
    found = line_of(status, "wiring_drop", "Drop")
    assert found.verdict == "pass"
    assert found.reading.startswith("0.20 ")
    assert "The meter read -0.2 V: its leads are the other way round" in found.sentence
    coarse = line_of(typed_status(SPRAYER, drop_voltage="-0.2"), "wiring_drop", "Drop")
    assert coarse.reading == "0.2 ± 0.4 V"
    assert "the other way round" in coarse.sentence
    none = line(judge_wiring(given(observed("drop_voltage", -0.01, 0.02), output_current=10.0)), "Drop")
    assert "the other way round" not in none.sentence
    assert none.verdict == "pass"


@pytest.mark.parametrize("count", ["0.4", "1.5", "99999", "-1"])
def test_a_count_is_a_whole_number_that_a_person_can_count(count: str) -> None:
    status = typed_status(SPRAYER, wiggle_count=count)
    assert status.step("wiggle").state == "partial"
    assert [slot.name for slot in status.step("wiggle").missing] == ["wiggle_watch"]
    assert "a count" in status.step("wiggle").judgement.lines[0].sentence  # type: ignore[union-attr]  # judged: it has a reading


def test_a_slip_of_the_pen_is_read_again_and_repairs_nothing() -> None:
    status = typed_status(SPRAYER, wiggle_count="1.5")
    leading = status.diagnosis.leading
    assert leading is not None
    assert leading.remedy.startswith("Nothing to repair")
    assert status.next_step is not None
    assert status.next_step.name == "wiggle"
    said = "\n".join(next_lines(status, "job.jsonl"))
    assert "--repaired" not in said
    assert "Nothing is to be repaired" in said


def test_readings_that_do_not_fit_together_are_repeated_and_nothing_is_repaired() -> None:
    status = typed_status(SPRAYER, winding_resistance="OL")
    assert status.diagnosis.leading is not None
    assert status.diagnosis.leading.name == "instrument_error"
    assert status.next_step is None
    assert "nothing is to be repaired" in status.next_reason
    assert "repeat winding resistance" in status.next_reason


def test_stator_volts_that_are_pulled_down_a_little_are_told_in_plain_words() -> None:
    found = line(judge_rectifier(given(rated(28.0), plugged_in_voltage=24.6)), "Stator volts")
    assert "can't be told" in found.sentence
    assert "runs on between" not in found.sentence


CARD_24 = replace(
    CART, battery=BatteryCard(nominal_voltage_v=24, chemistry="flooded"), charging_voltage_v=None
)


def of_24(*readings: Observed, **values: float) -> dict[str, float]:
    return strengths(judge_charging(given(*readings, machine=CARD_24, **values)))


def test_a_24_volt_batterys_ripple_has_its_own_limit() -> None:
    fine = line(judge_rectifier(given(machine=CARD_24, ripple_voltage=0.9)), "Ripple")
    assert fine.verdict == "pass"
    assert fine.limit.startswith("at most 1 V ")
    assert line(judge_rectifier(given(machine=CARD_24, ripple_voltage=1.1)), "Ripple").verdict == "fail"
    assert line(judge_rectifier(given(ripple_voltage=0.9)), "Ripple").limit.startswith("at most 0.5 V ")


@pytest.mark.parametrize(("volts", "verdict"), [(25.2, "pass"), (23.6, "fail"), (12.6, "fail")])
def test_a_24_volt_batterys_rest_volts_are_twice_those_of_12(volts: float, verdict: str) -> None:
    """12.6 V and 11.8 V of 12: charged, and empty."""
    at_24 = judge_battery_rest(given(machine=CARD_24, rest_voltage=volts, battery_temperature=20.0))
    at_12 = judge_battery_rest(given(observed("rest_voltage", 0.5 * volts, 0.005), battery_temperature=20.0))
    assert at_24.verdict == at_12.verdict == verdict
    assert strengths(at_24) == pytest.approx(strengths(at_12))
    assert at_24.lines[0].reading.split(", ")[1] == at_12.lines[0].reading.split(", ")[1]


def test_a_24_volt_batterys_rise_and_fall_are_twice_those_of_12() -> None:
    assert of_24(rest_voltage=25.0, voltage_work=25.3)["volts_rise"] > 0.95
    assert "volts_rise" not in of_24(rest_voltage=25.0, voltage_work=25.1)
    assert of_24(rest_voltage=25.0, voltage_work=24.4)["volts_fall"] > 0.95
    assert "volts_fall" not in of_24(rest_voltage=25.0, voltage_work=24.6)
