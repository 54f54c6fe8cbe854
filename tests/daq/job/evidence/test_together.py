"""Readings that can be true alone and not beside each other."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.job.evidence.observed import Observed
from daq.job.evidence.together import checked_together
from daq.job.job import Job
from daq.job.status import StepStatus
from tests.daq.job.builders import observed
from tests.daq.job.whole_job import start_job


def troubled(*, u: float = 0.01, nominal_v: float = 12.0, **values: float) -> dict[str, str]:
    readings: dict[str, Observed] = {name: observed(name, value, u) for name, value in values.items()}
    found = checked_together(readings, nominal_v)
    return {name: each.troubles[0].text for name, each in found.items() if each.troubles}


def typed(job: Job, step: str, **values: str) -> StepStatus:
    for slot, text in values.items():
        job.type_reading(step, slot, text)
    return job.status().step(step)


def test_leads_that_read_more_than_the_winding() -> None:
    said = troubled(lead_resistance=0.30, winding_resistance=0.20)
    assert set(said) == {"lead_resistance", "winding_resistance"}
    assert "read both again" in said["winding_resistance"]
    assert troubled(lead_resistance=0.02, winding_resistance=0.27) == {}


def test_a_little_under_nothing_may_be_chance() -> None:
    """0.02 ohm less with 0.01 ohm of doubt on each: 1.4 of the difference's own."""
    assert troubled(lead_resistance=0.30, winding_resistance=0.28) == {}
    assert troubled(lead_resistance=0.30, winding_resistance=0.26) != {}


def test_a_negative_resistance_condemns_no_winding(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    step = typed(job, "winding_resistance", lead_resistance="0.30", winding_resistance="0.20")
    assert step.judgement is not None
    assert step.judgement.verdict == "not_judged"
    assert {each.name for each in step.judgement.findings} == {"reading_impossible"}
    assert all(fault.name != "shorted_turns" for fault in job.status().diagnosis.faults)


def test_one_of_both_read_again_is_enough(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    typed(job, "winding_resistance", lead_resistance="0.30", winding_resistance="0.27")
    step = typed(job, "winding_resistance", lead_resistance="0.02")
    assert step.state == "too_close"  # a last digit of 0.01 ohm can't tell 0.25 from the range's ends
    assert not step.open
    assert all(not each.troubles for each in step.observed)


@pytest.mark.parametrize(
    "others",
    [
        {"output_current": 9.2, "load_current": 6.1},
        {"rest_voltage": 12.3, "voltage_work": 14.3},
    ],
)
def test_amps_out_of_a_battery_that_is_charged_are_a_reversed_ammeter(others: dict[str, float]) -> None:
    said = troubled(current_work=-3.1, **others)
    assert "the ammeter may be reversed" in said["current_work"]
    assert troubled(current_work=3.1, **others) == {}


def test_a_battery_that_loses_is_believed() -> None:
    assert troubled(current_work=-3.1, output_current=3.0, load_current=6.1) == {}
    assert troubled(current_work=-3.1, rest_voltage=12.6, voltage_work=12.2) == {}
    assert troubled(current_work=-3.1, rest_voltage=12.3, voltage_work=12.4) == {}
    assert troubled(current_work=-0.01, rest_voltage=12.3, voltage_work=14.3) == {}


def test_the_rise_goes_with_the_batterys_volts() -> None:
    assert troubled(current_work=-3.1, rest_voltage=24.6, voltage_work=25.0) != {}
    assert troubled(current_work=-3.1, rest_voltage=24.6, voltage_work=25.0, nominal_v=24.0) == {}


def test_a_reversed_ammeter_is_not_taken_for_too_many_loads(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    typed(job, "battery_rest", rest_voltage="12.30")
    typed(job, "loads", load_current="6.10", loaded_voltage="12.10")
    typed(job, "charging", governed_speed="3590", voltage_work="14.30", current_work="-3.10")
    typed(job, "rectifier_output", output_current="9.20", ripple_voltage="0.05")
    leading = job.status().diagnosis.leading
    assert leading is not None
    assert leading.name == "instrument_error"


def test_a_battery_gives_no_more_than_the_loads_take() -> None:
    said = troubled(current_work=-80.0, load_current=6.1)
    assert "while the loads draw 6.1 A" in said["current_work"]
    assert troubled(current_work=-11.0, load_current=6.1) == {}
    assert troubled(current_work=-11.3, load_current=6.1) != {}
    assert troubled(current_idle=-80.0, load_current=-6.1) != {}
    assert troubled(current_work=-80.0) == {}
    said = troubled(current_work=-80.0, load_current=6.1, rest_voltage=12.3, voltage_work=14.3)
    assert "decimal point" in said["current_work"]


def test_recorded_amps_are_told_to_the_last_digit_of_the_display() -> None:
    readings = {
        "load_current": observed("load_current", -6.1049, digit=0.01),
        "current_work": observed("current_work", -30.250001, digit=0.01),
    }
    (trouble,) = checked_together(readings, 12.0)["current_work"].troubles
    assert trouble.text.startswith(
        "-30.25 A out of the battery, while the loads draw 6.10 A in all, can't be true"
    )
