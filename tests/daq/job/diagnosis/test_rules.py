"""The table of rules: whole, readable, and doing what it says, for what the bench can't show too."""

from __future__ import annotations

import json

import msgspec
import pytest

from daq.cards.machine_parts import AlternatorClass
from daq.job.diagnosis.rank import Diagnosis, diagnose
from daq.job.diagnosis.table import Disagreement, RuleTable, load_table
from daq.job.judging.judge_step import JUDGES
from daq.job.sheet.steps import load_sheet
from tests.daq.job.builders import finding

TABLE = load_table()


def diagnosed(*names: str, open_steps: tuple[str, ...] = ()) -> Diagnosis:
    return diagnose([finding(name) for name in names], open_steps)


def test_the_faults_are_those_of_the_job() -> None:
    assert {fault.name for fault in TABLE.fault} == {
        "open_winding",
        "intermittent_joint",
        "shorted_turns",
        "grounded_stator",
        "weak_magnets",
        "dead_regulator",
        "open_diode",
        "lead_diode",
        "overcharging_regulator",
        "wiring",
        "blown_fuse",
        "worn_battery",
        "low_governed_speed",
        "overloaded",
        "instrument_error",
    }


def test_every_finding_comes_from_a_test_and_is_used_by_a_fault() -> None:
    steps = {step.name for step in load_sheet().step}
    used = {line.finding for fault in TABLE.fault for line in (*fault.supports, *fault.contradicts)}
    for kind in TABLE.finding:
        assert kind.step in steps | {""}, kind.name
    known = {kind.name for kind in TABLE.finding}
    assert used <= known
    assert known - used <= {"battery_charged", "loads_dead", "volts_rise", "volts_fall"}
    assert set(JUDGES) == {step.name for step in load_sheet().step if step.slot}


def test_every_line_says_why_and_every_fault_has_a_remedy() -> None:
    for fault in TABLE.fault:
        assert fault.supports
        assert len(fault.remedy) > 20
        for line in (*fault.supports, *fault.contradicts):
            assert len(line.why) > 10
            assert not line.why.endswith(".")


def test_a_rule_with_an_unknown_finding_or_weight_is_refused() -> None:
    for key, value in ((0, "gremlins"), (1, "perhaps")):
        table = json.loads(msgspec.json.encode(TABLE))
        table["fault"][0]["supports"][0][key] = value
        with pytest.raises(msgspec.ValidationError, match=value):
            msgspec.convert(table, RuleTable)


@pytest.mark.parametrize(
    ("fault", "findings"),
    [
        ("blown_fuse", ["charging_none", "ac_good", "rectified_none", "terminal_dead", "fuse_open"]),
        ("wiring", ["charging_none", "ac_good", "rectified_none", "terminal_dead", "fuse_whole"]),
        ("wiring", ["charging_weak", "ac_good", "rectified_low", "drop_large", "terminal_live"]),
        (
            "worn_battery",
            ["battery_low", "battery_sags", "charging_good", "rectified_good", "loads_within_card"],
        ),
        ("worn_battery", ["battery_dead_cell", "battery_sags", "charging_good"]),
        ("overcharging_regulator", ["overcharging", "charging_good", "ac_good", "rectified_good"]),
        ("instrument_error", ["winding_open", "ac_good", "charging_good", "rectified_good"]),
        ("instrument_error", ["reading_impossible", "battery_charged"]),
        ("instrument_error", ["charging_good", "volts_regulated", "ac_low", "ac_below_battery"]),
        ("instrument_error", ["charging_good", "volts_regulated", "ac_none"]),
        ("instrument_error", ["charging_good", "ac_good", "grounded"]),
        ("instrument_error", ["rectified_good", "charging_good", "ac_good", "grounded"]),
        ("grounded_stator", ["charging_weak", "rectified_low", "ac_good", "grounded"]),
        ("shorted_turns", ["charging_weak", "ac_low", "ac_below_battery", "winding_low"]),
        ("overloaded", ["charging_weak", "rectified_good", "loads_within_card", "ac_good", "speed_at_test"]),
        ("dead_regulator", ["charging_none", "ac_good", "rectified_none", "terminal_live", "fuse_whole"]),
    ],
)
def test_faults_by_findings_alone(fault: str, findings: list[str]) -> None:
    leading = diagnosed(*findings).leading
    assert leading is not None
    assert leading.name == fault


def test_contradicting_evidence_lowers_a_fault_and_is_shown() -> None:
    before = next(f for f in diagnosed("ac_low", "ac_straight").faults if f.name == "weak_magnets")
    after = next(
        f for f in diagnosed("ac_low", "ac_straight", "winding_low").faults if f.name == "weak_magnets"
    )
    assert after.score < before.score
    assert before.contradicts == ()
    assert after.contradicts == (
        "Winding low was found: the winding has lost turns, which magnets can't do.",
    )


def test_a_finding_counts_by_how_sure_it_is() -> None:
    sure = diagnose([finding("ac_low")], ()).faults[0].score
    unsure = diagnose([finding("ac_low", 0.5)], ()).faults[0]
    assert unsure.score == pytest.approx(0.5 * sure)
    assert "(not sure)" in unsure.supports[0]


def test_of_one_finding_twice_the_surer_counts_once() -> None:
    once = diagnose([finding("ac_low")], ())
    twice = diagnose([finding("ac_low", 0.4), finding("ac_low"), finding("ac_low")], ())
    assert [f.score for f in once.faults] == [f.score for f in twice.faults]


def test_nothing_found_names_nothing() -> None:
    assert diagnosed().faults == ()
    assert diagnosed("ac_good", "charging_good", "battery_charged", "insulated").leading is None


def test_low_ac_asks_for_the_test_that_parts_magnets_from_turns() -> None:
    open_steps = ("winding_resistance", "wiggle", "winding_to_ground", "rectifier_output", "wiring_drop")
    found = diagnosed("ac_low", "charging_weak", open_steps=open_steps).next_test
    assert found is not None
    assert found.step == "winding_resistance"
    assert "shorted turns" in found.reason
    assert "weak magnets" in found.reason


def test_no_charge_with_good_ac_asks_for_regulator_or_wiring_next() -> None:
    open_steps = ("winding_resistance", "wiggle", "winding_to_ground", "rectifier_output", "wiring_drop")
    found = diagnosed("ac_good", "charging_none", open_steps=open_steps).next_test
    assert found is not None
    assert found.step in {"rectifier_output", "wiring_drop"}


def test_with_nothing_left_to_do_there_is_no_next_test() -> None:
    assert diagnosed("ac_low").next_test is None
    assert diagnosed(open_steps=("wiggle",)).next_test is None


def test_disagreeing_readings_name_the_test_to_repeat() -> None:
    leading = diagnosed("charging_good", "rectified_none").faults[0]
    assert leading.name == "instrument_error"
    assert "repeat rectifier output" in leading.supports[0]


def test_what_is_next_to_unsure_is_not_told() -> None:
    found = diagnose([finding("ac_low"), finding("winding_low", 0.05)], ())
    weak = next(fault for fault in found.faults if fault.name == "weak_magnets")
    assert weak.contradicts == ()
    assert weak.score == pytest.approx(4.0)
    sure = diagnose([finding("ac_low", 0.9)], ()).faults[0]
    assert "(not sure)" not in sure.supports[0]


def test_a_rival_is_named_and_close() -> None:
    found = diagnose([finding("ac_low"), finding("ac_bends", 0.5)], ())
    assert found.leading is not None
    assert found.leading.name == "shorted_turns"
    assert [each.name for each in found.rivals(10.0)] == []
    close = diagnose([finding("ac_low")], ())
    assert {each.name for each in close.rivals(3.0)} == {"weak_magnets"}


@pytest.mark.parametrize("each", TABLE.disagreement, ids=lambda each: "-".join(each.findings))
def test_every_disagreement_is_heard_and_names_what_to_repeat(each: Disagreement) -> None:
    (found,) = [f for f in diagnosed(*each.findings).findings if f.name == "readings_disagree"]
    assert each.text in found.text
    assert each.repeat.replace("_", " ") in found.text


def test_what_can_not_be_true_together() -> None:
    pairs = {frozenset(each.findings) for each in TABLE.disagreement}
    for pair in (
        {"terminal_dead", "charging_good"},
        {"charging_good", "ac_below_battery"},
        {"charging_good", "ac_none"},
        {"charging_good", "grounded"},
        {"charging_good", "volts_fall"},
        {"charging_good", "rectified_none"},
    ):
        assert pair in pairs


def test_a_fault_is_only_named_on_an_alternator_that_can_have_it() -> None:
    facts = [finding(name) for name in ("charging_none", "ac_good", "terminal_live", "winding_whole")]

    def first(alternator: AlternatorClass | None) -> str:
        leading = diagnose(facts, (), TABLE.of_class(alternator)).leading
        assert leading is not None
        return leading.name

    assert first(AlternatorClass.DC_ONLY) == "lead_diode"
    assert {first(each) for each in (AlternatorClass.REGULATED, AlternatorClass.SPLIT, None)} == {
        "dead_regulator"
    }
    names = {fault.name for fault in TABLE.of_class(AlternatorClass.DC_ONLY).fault}
    assert not names & {"dead_regulator", "open_diode", "overcharging_regulator"}
