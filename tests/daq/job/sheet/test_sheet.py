"""The sheet's table is whole, and the meter is told where to go."""

from __future__ import annotations

import json

import msgspec
import pytest

from daq.cards.machine import MachineCard
from daq.cards.machine_parts import AlternatorClass
from daq.job.sheet.meter_moves import meter_move
from daq.job.sheet.steps import AFTER_REPAIR, Slot, load_sheet
from daq.model.quantity import Quantity

SHEET = load_sheet()


def slot(name: str) -> Slot:
    step = SHEET.step_of_slot(name)
    assert step is not None
    found = step.slot_named(name)
    assert found is not None
    return found


def test_the_tests_are_those_of_the_job_in_their_order() -> None:
    assert [step.name for step in SHEET.step] == [
        "battery_rest",
        "loads",
        "charging",
        "ac_output",
        "winding_resistance",
        "wiggle",
        "winding_to_ground",
        "rectifier_output",
        "wiring_drop",
        AFTER_REPAIR,
    ]


@pytest.mark.parametrize("step", SHEET.step, ids=lambda step: step.name)
def test_each_step_says_everything(step: object) -> None:
    said = msgspec.structs.asdict(step)  # type: ignore[arg-type]  # parametrize knows no types
    for key in ("title", "purpose", "setup", "cautions", "acceptance", "tells"):
        assert said[key], key
    if said["name"] != AFTER_REPAIR:
        assert any(not each.optional and each.instead_of is None for each in said["slot"])


def test_a_running_engine_always_comes_with_its_cautions() -> None:
    for step in SHEET.step:
        if any(each.engine != "stopped" for each in step.slot):
            assert {"moving_parts", "exhaust_gas"} <= set(step.cautions), step.name
        if any(each.quantity is Quantity.DC_CURRENT for each in step.slot):
            assert "current_jack" in step.cautions
        if any(each.quantity is Quantity.RESISTANCE and each.place == "stator" for each in step.slot):
            assert "dead_circuit" in step.cautions
        if any(each.quantity is Quantity.AC_VOLTAGE and each.place == "stator" for each in step.slot):
            assert "stator_volts" in step.cautions


def test_every_caution_is_used() -> None:
    used = {name for step in SHEET.step for name in step.cautions}
    assert used == set(SHEET.caution)


def test_what_does_not_apply_to_a_class_is_left_out() -> None:
    def names(alternator: AlternatorClass | None) -> set[str]:
        card = MachineCard(name="x", title="y", rated_speed_rpm=3600, alternator=alternator)
        return {step.name for step in SHEET.step if SHEET.applies(step, card)}

    assert "charging" not in names(AlternatorClass.AC_ONLY)
    assert "rectifier_output" not in names(AlternatorClass.DC_ONLY)
    assert names(AlternatorClass.REGULATED) == names(None) == {step.name for step in SHEET.step}


def test_an_unknown_caution_is_refused() -> None:
    table = json.loads(msgspec.json.encode(SHEET))
    table["step"][0]["cautions"].append("dragons")
    with pytest.raises(msgspec.ValidationError, match="no caution 'dragons'"):
        msgspec.convert(table, type(SHEET))


def test_the_first_reading_is_told_in_full() -> None:
    said = " ".join(meter_move(None, slot("rest_voltage")))
    assert "Turn the dial to DC volts." in said
    assert "red on the battery's positive post" in said
    assert "Engine stopped." in said


def test_leaving_amps_puts_the_plug_back_before_the_leads_touch_the_battery() -> None:
    said = list(meter_move(slot("load_current"), slot("loaded_voltage")))
    assert "take the meter out of the circuit" in said[0]
    plug = next(i for i, each in enumerate(said) if "short circuit" in each)
    leads = next(i for i, each in enumerate(said) if each.startswith("Leads:"))
    assert plug < leads


def test_what_stays_is_not_repeated() -> None:
    assert meter_move(slot("winding_resistance"), slot("wiggle_watch"))[-1] == "Engine stopped."
    said = meter_move(slot("voltage_work"), slot("voltage_idle"))
    assert said == ("Engine at idle.",)


def test_the_amps_jack_is_named() -> None:
    said = " ".join(meter_move(slot("voltage_work"), slot("current_work")))
    assert "amps jack" in said


def cautions(name: str) -> set[str]:
    step = SHEET.step_named(name)
    assert step is not None
    return set(step.cautions)


@pytest.mark.parametrize(
    ("step", "wanted"),
    [
        ("charging", {"ammeter_engine_off"}),
        ("rectifier_output", {"stator_at_plug", "stator_volts", "never_faster", "ammeter_engine_off"}),
        ("wiring_drop", {"hot_metal", "regulator_unplugged", "never_faster"}),
        ("ac_output", {"hot_metal", "stator_volts", "never_faster"}),
    ],
)
def test_each_test_has_its_cautions(step: str, wanted: set[str]) -> None:
    assert wanted <= cautions(step)


def test_the_words_of_the_cautions() -> None:
    assert (
        "Stop the engine before the ammeter goes into the battery's lead"
        in SHEET.caution["ammeter_engine_off"]
    )
    assert "no held probes" in SHEET.caution["stator_at_plug"]


@pytest.mark.parametrize("alternator", list(AlternatorClass))
def test_the_service_manual_comes_first_on_every_machine(alternator: AlternatorClass) -> None:
    machine = MachineCard(name="m", title="m", rated_speed_rpm=3600, alternator=alternator)
    first = next(step for step in SHEET.step if SHEET.applies(step, machine))
    assert first.cautions[0] == "manual_first"
