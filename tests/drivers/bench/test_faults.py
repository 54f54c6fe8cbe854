"""What each fault does to what the instruments say, and to the charge."""

from __future__ import annotations

import math
from functools import cache

import pytest

from drivers.bench.faults import FAULTS, condition_named
from drivers.bench.model import Bench, BenchSetup

NEVER_SEEN_UNLOADED = {
    "dead_regulator",
    "open_diode",
    "overloaded",
    "grounded_stator",
    "low_governed_speed",
    "bad_connector",
    "blown_fuse",
    "worn_battery",
}


@cache
def truth_v(fault: str, seed: int = 3) -> float:
    return Bench(BenchSetup(fault=fault, seed=seed)).machine.rated_v()


def readings(
    fault: str, leads: str, function: str, *, script: str = "work", seconds: float = 12.0
) -> list[float]:
    bench = Bench(BenchSetup(fault=fault, script=script, seed=3, leads=leads, state_of_charge=0.5))
    bench.meter.configure(function)
    bench.step(seconds)
    return [result.value for result in bench.meter.results]


def last(fault: str, leads: str, function: str, script: str = "work") -> float:
    return readings(fault, leads, function, script=script)[-1]


def test_the_faults_are_those_of_the_design_and_three_more() -> None:
    assert list(FAULTS) == [
        "healthy",
        "open_winding",
        "intermittent_joint",
        "weak_magnets",
        "shorted_turns",
        "grounded_stator",
        "dead_regulator",
        "open_diode",
        "low_governed_speed",
        "overloaded",
        "bad_connector",
        "blown_fuse",
        "worn_battery",
    ]


def test_an_unknown_fault_is_named() -> None:
    with pytest.raises(ValueError, match="no fault 'gremlins'.*open_diode"):
        condition_named("gremlins")


def test_healthy_is_well_above_twenty_volts_and_machines_differ() -> None:
    volts = {truth_v("healthy", seed) for seed in range(20)}
    assert len(volts) == 20
    assert all(27.4 < v < 28.6 for v in volts)


@pytest.mark.parametrize("fault", sorted(NEVER_SEEN_UNLOADED))
def test_faults_behind_the_plug_leave_the_unloaded_volts_alone(fault: str) -> None:
    assert truth_v(fault) == truth_v("healthy")


@pytest.mark.parametrize("fault", ["weak_magnets", "shorted_turns"])
def test_faults_of_the_alternator_bring_it_below_its_limit(fault: str) -> None:
    assert 12.0 < truth_v(fault) < 19.0


def test_weak_magnets_lower_every_speed_alike() -> None:
    ratio = truth_v("weak_magnets") / truth_v("healthy")
    assert ratio == pytest.approx(16.5 / 28.0, rel=1e-9)
    idle = [last(fault, "stator", "VOLT:AC", "idle") for fault in ("weak_magnets", "healthy")]
    assert idle[0] / idle[1] == pytest.approx(ratio, rel=0.01)


def test_an_open_winding_reads_next_to_nothing_and_no_ohms() -> None:
    assert all(0.0 <= value <= 0.02 for value in readings("open_winding", "stator", "VOLT:AC"))
    assert last("open_winding", "stator", "RES", "stopped") == float("inf")
    assert truth_v("open_winding") == 0.0


def test_an_intermittent_joint_drops_out_now_and_then_and_is_whole_between() -> None:
    bench = Bench(BenchSetup(fault="intermittent_joint", script="work", seed=3))
    found: list[float] = []
    for _ in range(400):
        bench.step(0.3)
        found.extend(result.value for result in list(bench.meter.results)[-1:])
    whole = [value for value in found if value > 25.0]
    dropped = [value for value in found if value < 20.0]
    assert len(whole) > 0.5 * len(found)
    assert len(dropped) > 10
    assert min(found) < 1.0


def test_an_intermittent_joint_at_rest_opens_when_wiggled_only() -> None:
    bench = Bench(BenchSetup(fault="intermittent_joint", script="stopped", seed=3))
    bench.step(60.0)
    assert bench.machine.winding_closed
    bench.machine.wiggled = True
    opened = 0
    for _ in range(600):
        bench.step(0.1)
        opened += not bench.machine.winding_closed
    assert opened > 20


def test_shorted_turns_have_less_resistance() -> None:
    assert last("shorted_turns", "stator", "RES", "stopped") < last("healthy", "stator", "RES", "stopped")


def test_a_grounded_stator_shows_to_the_engine_block() -> None:
    assert last("healthy", "stator_to_ground", "RES", "stopped") == float("inf")
    assert last("grounded_stator", "stator_to_ground", "RES", "stopped") < 0.5
    assert last("healthy", "stator_to_ground", "VOLT:AC") < 0.1
    assert last("grounded_stator", "stator_to_ground", "VOLT:AC") > 5.0


@pytest.mark.parametrize(
    ("fault", "least_a", "most_a"),
    [
        ("healthy", 3.0, 5.0),
        ("open_winding", -7.0, -5.0),
        ("weak_magnets", -4.5, -1.5),
        ("shorted_turns", -3.5, 0.0),
        ("grounded_stator", -6.5, -4.0),
        ("dead_regulator", -7.0, -5.0),
        ("open_diode", -2.0, 1.0),
        ("low_governed_speed", 1.5, 3.9),
        ("overloaded", -6.0, -2.0),
    ],
)
def test_net_current_into_the_battery_at_work_speed(fault: str, least_a: float, most_a: float) -> None:
    assert least_a < last(fault, "battery_current", "CURR") < most_a


def test_a_dead_regulator_leaves_the_plugged_in_stator_unloaded() -> None:
    loaded_v = last("dead_regulator", "stator_loaded", "VOLT:AC")
    assert loaded_v == pytest.approx(truth_v("dead_regulator"), rel=0.03)
    assert last("healthy", "stator_loaded", "VOLT:AC") < 0.65 * loaded_v


def test_an_open_diode_makes_more_ripple_from_less_current() -> None:
    ripple = {fault: last(fault, "battery", "VOLT:AC") for fault in ("healthy", "open_diode")}
    current = {fault: last(fault, "rectifier_current", "CURR") for fault in ("healthy", "open_diode")}
    assert current["open_diode"] < 0.7 * current["healthy"]
    assert ripple["open_diode"] / current["open_diode"] > 1.5 * ripple["healthy"] / current["healthy"]


def test_a_low_governor_never_comes_near_the_test_speed() -> None:
    bench = Bench(BenchSetup(fault="low_governed_speed", script="hold", seed=3))
    fastest = 0.0
    for _ in range(200):
        bench.step(0.2)
        fastest = max(fastest, bench.machine.engine.speed_rpm)
    assert 3130.0 < fastest < 3250.0


def test_overloading_is_the_loads_alone() -> None:
    assert last("overloaded", "load_current", "CURR") > 11.0
    assert last("overloaded", "rectifier_current", "CURR") > 0.95 * last(
        "healthy", "rectifier_current", "CURR"
    )


def test_a_blown_fuse_cuts_the_terminal_off_and_stops_the_charge() -> None:
    assert last("blown_fuse", "output_terminal", "VOLT", script="stopped") == pytest.approx(0.0, abs=0.02)
    assert last("blown_fuse", "battery_current", "CURR") < -5.0
    assert math.isinf(last("blown_fuse", "fuse", "RES", script="stopped"))
    assert last("blown_fuse", "wiring", "VOLT") < -11.0


def test_a_bad_connector_loses_volts_only_while_current_flows() -> None:
    assert last("bad_connector", "wiring", "VOLT", script="stopped") == pytest.approx(0.0, abs=0.02)
    assert last("bad_connector", "wiring", "VOLT") > 1.5
    assert last("healthy", "wiring", "VOLT") < 0.4


def test_a_worn_battery_gives_way_under_its_loads() -> None:
    sound, worn = (last(fault, "battery", "VOLT", script="stopped") for fault in ("healthy", "worn_battery"))
    assert sound - worn > 0.9


def test_one_way_current_leaves_dc_volts_in_the_plugged_in_winding() -> None:
    """The winding's 0.25 ohm times the output's amps with one diode open; nothing with all four."""
    assert last("healthy", "stator_loaded", "VOLT") == pytest.approx(0.0, abs=0.05)
    amps = last("open_diode", "rectifier_current", "CURR")
    assert abs(last("open_diode", "stator_loaded", "VOLT")) == pytest.approx(0.25 * amps, rel=0.05)
