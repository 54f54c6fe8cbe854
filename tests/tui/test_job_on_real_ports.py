"""The job over the bench's real ports, with real processes: three faults, and between them every test of the sheet."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from daq.job.sheet.steps import load_sheet
from tests.tui.bench_walk import BenchWalk


def open_diode(walk: BenchWalk) -> None:
    """Battery, loads, charging, AC output, regulator-rectifier."""
    walk.record("leads battery; engine stopped; loads off; wait 60", "battery_rest", 3)
    walk.job("next", "cart.jsonl", "--step", "battery_rest", "battery_temperature=20")
    walk.record("leads load_current; loads on; wait 5", "loads", 3)
    walk.record("leads battery; loads off; wait 60; loads on", "loads", 3)
    walk.record("leads battery; engine test_speed; wait 8", "charging", 4, reading="voltage_work")
    walk.record(
        "leads battery_current; engine idle; wait 5", "charging", 10, later=(5.5, "engine test_speed")
    )
    walk.record("leads stator; engine test_speed; wait 5", "ac_output", 6)
    walk.record("leads rectifier_current; wait 5", "rectifier_output", 3)
    walk.record("leads battery; wait 5", "rectifier_output", 3)
    walk.record("leads stator_loaded", "rectifier_output", 3, reading="plugged_in_voltage")
    walk.record("leads stator_loaded", "rectifier_output", 3, reading="plugged_in_dc_voltage")


def weak_magnets(walk: BenchWalk) -> None:
    """AC output and everything on the winding."""
    walk.record("leads stator; engine test_speed; wait 5", "ac_output", 5)
    walk.record("leads shorted; engine stopped; wait 15", "winding_resistance", 3)
    walk.record("leads stator", "winding_resistance", 3)
    walk.job("next", "cart.jsonl", "--step", "winding_resistance", "winding_temperature=20")
    walk.record("leads stator; wiggle on", "wiggle", 5)
    walk.record("leads stator_to_ground; wiggle off", "winding_to_ground", 3)


def blown_fuse(walk: BenchWalk) -> None:
    """The amps at work, and the wiring."""
    walk.record(
        "leads battery_current; engine test_speed; loads on; wait 5", "charging", 4, reading="current_work"
    )
    walk.record("leads output_terminal; engine stopped; wait 15", "wiring_drop", 3)
    walk.record("leads fuse", "wiring_drop", 3)
    walk.record("leads wiring; engine test_speed; wait 5", "wiring_drop", 3)


def engine_stops(walk: BenchWalk) -> None:
    """A sound machine whose engine stops by itself in the middle of a test."""
    walk.record("leads stator; engine test_speed; wait 5", "ac_output", 13, later=(2.5, "stall"))


WALKS: dict[str, Callable[[BenchWalk], None]] = {
    walk.__name__: walk for walk in (open_diode, weak_magnets, blown_fuse, engine_stops)
}
FAULTS = [name for name in WALKS if name != "engine_stops"]


pytestmark = pytest.mark.timeout(300)  # real engines take their time, and a busy machine more


@dataclass(frozen=True)
class Walked:
    """What came of a walk."""

    report: dict[str, Any]
    status: str
    folder: Path


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Walked]:
    """All walks, side by side: they mostly wait for the engine."""
    folder = tmp_path_factory.mktemp("walks")

    def do(fault: str) -> Walked:
        with BenchWalk(folder / fault, fault if fault in FAULTS else "healthy") as walk:
            WALKS[fault](walk)
            report = json.loads(walk.job("report", "cart.jsonl", "--json").out)
            return Walked(report, walk.job("status", "cart.jsonl").out, walk.folder)

    with ThreadPoolExecutor(len(WALKS)) as pool:
        return dict(zip(WALKS, pool.map(do, WALKS), strict=True))


@pytest.mark.parametrize("fault", FAULTS)
def test_the_fault_is_named_first(fault: str, walked: dict[str, Walked]) -> None:
    assert walked[fault].report["answer"]["fault"] == fault, walked[fault].status
    assert walked[fault].report["troubles"] == []


def test_every_test_of_the_sheet_was_recorded_over_real_ports(walked: dict[str, Walked]) -> None:
    slots = {
        slot
        for each in walked.values()
        for recording in each.report["recordings"]
        for slot in recording["slots"]
    }
    sheet = load_sheet()
    wanted = {s.name for step in sheet.step for s in step.slot if s.quantity is not None}
    assert wanted - slots == {"battery_temperature", "winding_temperature", "voltage_idle"}


def test_the_readings_are_those_of_the_instruments_cards(walked: dict[str, Walked]) -> None:
    instruments = {each["name"] for each in walked["open_diode"].report["instruments"]}
    assert {"bench-meter", "bench-dc-volts", "bench-amps", "bench-tach"} <= instruments
    tests = {each["name"]: each for each in walked["open_diode"].report["tests"]}
    assert tests["ac_output"]["state"] == "pass"
    assert walked["open_diode"].report["answer"]["carries"] == "no"
    assert tests["rectifier_output"]["state"] == "fail"


def test_the_recordings_are_named_after_job_and_reading(walked: dict[str, Walked]) -> None:
    names = {path.name for path in walked["blown_fuse"].folder.glob("*.jsonl")}
    assert names == {
        "cart.jsonl",
        "cart-charging-current_work.jsonl",
        "cart-wiring_drop-terminal_voltage.jsonl",
        "cart-wiring_drop-fuse_resistance.jsonl",
        "cart-wiring_drop-drop_voltage.jsonl",
    }


def test_an_engine_that_stops_cuts_the_test_short_and_the_usual_causes_are_named(
    walked: dict[str, Walked],
) -> None:
    (test,) = walked["engine_stops"].report["tests"]
    assert (test["name"], test["state"]) == ("ac_output", "cut_short")
    assert "The engine stopped by itself" in test["lines"][0]["sentence"]
    speed_rpm = float(test["lines"][0]["sentence"].split("from ")[1].split(" rpm")[0])
    assert 3500 < speed_rpm < 3700
    status = walked["engine_stops"].status
    assert "cut short         AC output" in status
    for cause in ("Fuel", "Low-oil cut-out", "Stop lead touching ground", "Governor or throttle linkage"):
        assert f"  - {cause}: " in status
