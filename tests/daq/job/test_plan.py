"""What is recorded next, together, and for how long."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from daq.errors import UsageError
from daq.job.job import Job
from daq.job.plan import RecordingPlan, plan_recording
from daq.model.quantity import Quantity
from tests.daq.job.builders import slot_of
from tests.daq.job.whole_job import start_job

ALL = frozenset(Quantity)


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return start_job(tmp_path)


def plan(job: Job, step: str, readable: Iterable[Quantity] = ALL, wanted: str = "") -> RecordingPlan:
    slot = slot_of(wanted) if wanted else None
    return plan_recording(job.status().step(step), frozenset(readable), slot)


def names(found: RecordingPlan) -> list[str]:
    return [slot.name for slot in found.slots]


def test_readings_at_one_place_go_into_one_recording_idle_first(job: Job) -> None:
    found = plan(job, "charging")
    assert names(found) == ["voltage_idle", "voltage_work"]
    assert found.engine == ("idle", "test_speed")
    assert found.seconds == 10 + 10 + 2 + 8
    assert found.changes() == ((2 + 10, "test_speed"),)
    assert plan(job, "ac_output").changes() == ()
    job.type_reading("charging", "voltage_work", "13.9")
    # The optional volts at idle are not worth a recording of their own; the amps come next.
    assert names(plan(job, "charging")) == ["current_idle", "current_work"]


def test_one_at_a_time_where_the_leads_move(job: Job) -> None:
    assert names(plan(job, "wiring_drop")) == ["terminal_voltage"]
    job.type_reading("wiring_drop", "terminal_voltage", "12.6")
    assert names(plan(job, "wiring_drop")) == ["fuse_resistance"]
    assert names(plan(job, "wiring_drop", {Quantity.DC_VOLTAGE})) == ["drop_voltage"]


def test_one_reading_by_name_and_the_whole_test_again(job: Job) -> None:
    assert names(plan(job, "rectifier_output", wanted="plugged_in_voltage")) == ["plugged_in_voltage"]
    job.type_reading("battery_rest", "rest_voltage", "12.5")
    found = plan(job, "battery_rest", {Quantity.DC_VOLTAGE})
    assert names(found) == ["rest_voltage"]
    assert (found.place, found.quantity) == ("battery", Quantity.DC_VOLTAGE)


def test_what_the_instruments_can_not_read_is_told(job: Job) -> None:
    assert not plan(job, "ac_output").fits({Quantity.DC_VOLTAGE, Quantity.ROTATIONAL_SPEED})
    assert plan(job, "ac_output").fits({Quantity.AC_VOLTAGE})
    job.type_reading("charging", "voltage_work", "13.9")
    job.type_reading("charging", "current_idle", "-2")
    job.type_reading("charging", "current_work", "3")
    only_speed = plan(job, "charging", {Quantity.REVOLUTIONS})
    assert names(only_speed) == ["governed_speed"]
    assert only_speed.fits({Quantity.REVOLUTIONS})
    with pytest.raises(UsageError, match="counted by a person"):
        plan(job, "wiggle", wanted="wiggle_count")
