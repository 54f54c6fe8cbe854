"""Alternators of other kinds on the bench: one diode, two windings, lamps; and what can't be wrong with them."""

from __future__ import annotations

import math

import pytest

from drivers.bench.alternator import Winding
from drivers.bench.controls import obey
from drivers.bench.kinds import KINDS, build_of, faults_of, kind_named
from drivers.bench.lamps import LampCircuit
from drivers.bench.model import Bench, BenchSetup
from drivers.bench.options import parse_options, setup_from
from drivers.bench.rectifier import Bridge

WINDING = Winding(28.0 / 3600.0, 6, 0.55, 0.0014)


def reading(kind: str, leads: str, function: str, *, fault: str = "healthy", script: str = "work") -> float:
    setup = BenchSetup(
        fault=fault, script=script, seed=3, leads=leads, state_of_charge=0.6, build=build_of(kind)
    )
    bench = Bench(setup)
    bench.meter.configure(function)
    bench.step(6.0)
    return bench.meter.results[-1].value


def test_one_diode_gives_less_than_four_and_leaves_the_mean_of_its_current_in_the_winding() -> None:
    four, one = (
        Bridge().output(WINDING, 3600.0, 12.8, 0.03),
        Bridge(half_wave=True).output(WINDING, 3600.0, 12.8, 0.03),
    )
    assert 0.4 * four.mean_a < one.mean_a < 0.9 * four.mean_a
    assert one.winding_dc_v == pytest.approx(-0.55 * one.mean_a)
    assert abs(four.winding_dc_v) < 0.01


def test_dc_only_charges_through_its_diode_and_nothing_holds_it_back() -> None:
    assert 2.0 < reading("dc_only", "rectifier_current", "CURR") < 5.0
    assert reading("dc_only", "battery_current", "CURR") > 1.0
    bench = Bench(BenchSetup(script="work", state_of_charge=1.0, build=build_of("dc_only")))
    bench.put_leads("battery")
    bench.machine.charging.loads.switch([])
    bench.step(60.0)
    assert bench.machine.charging.battery_v > 14.62


def test_split_circuits_hold_the_volts_and_light_the_lamps_from_a_winding_of_their_own() -> None:
    bench = Bench(BenchSetup(script="work", state_of_charge=1.0, build=build_of("split")))
    bench.put_leads("battery")
    bench.machine.charging.loads.switch([])
    bench.step(60.0)
    assert bench.machine.charging.battery_v < 14.6
    assert reading("split", "lamps", "VOLT:AC") < reading("split", "lamp_stator", "VOLT:AC") - 1.0
    assert reading("split", "lamp_stator", "RES", script="stopped") == pytest.approx(0.22, abs=0.02)
    assert reading("regulated", "lamp_stator", "VOLT:AC") == 0.0


def test_ac_only_has_lamps_and_no_battery() -> None:
    assert reading("ac_only", "battery", "VOLT") == 0.0
    assert reading("ac_only", "stator_loaded", "VOLT:AC") < reading("ac_only", "stator", "VOLT:AC") - 1.0
    assert reading("ac_only", "stator_loaded", "VOLT:AC", fault="open_winding") < 0.1


def test_the_voltage_divider_of_winding_and_lamps() -> None:
    lamps = LampCircuit(Winding(17.0 / 3600.0, 6, 0.35, 0.0006), 5.0)
    whole = abs(complex(2.4 + 0.35, math.tau * 360.0 * 0.0006))
    assert lamps.lit_v(3600.0) == pytest.approx(17.0 * 2.4 / whole)
    assert lamps.power_w(3600.0) == pytest.approx(lamps.lit_v(3600.0) ** 2 / 2.4)
    dark = LampCircuit(lamps.winding, 0.0)
    assert dark.lit_v(3600.0) == pytest.approx(17.0)
    assert dark.power_w(3600.0) == 0.0


def test_a_winding_that_is_grounded_on_purpose_has_its_own_ohms_to_ground() -> None:
    for kind in ("dc_only", "split", "ac_only"):
        to_ground = reading(kind, "stator_to_ground", "RES", script="stopped")
        assert to_ground == pytest.approx(reading(kind, "stator", "RES", script="stopped"), abs=0.02)
        assert math.isinf(reading(kind, "stator_to_ground", "RES", script="stopped", fault="open_winding"))


def test_an_open_diode_in_the_lead_lets_nothing_through() -> None:
    assert reading("dc_only", "rectifier_current", "CURR", fault="open_diode") == pytest.approx(0.0, abs=0.03)
    assert reading("regulated", "rectifier_current", "CURR", fault="open_diode") > 2.0


def test_what_can_not_be_wrong_with_a_kind_is_refused() -> None:
    assert set(KINDS) == {"regulated", "dc_only", "split", "ac_only"}
    assert "grounded_stator" in faults_of("regulated")
    assert "grounded_stator" not in faults_of("dc_only")
    assert "dead_regulator" not in faults_of("dc_only")
    assert "open_diode" not in faults_of("split")
    assert faults_of("ac_only")[0] == "healthy"
    with pytest.raises(ValueError, match="no grounded_stator on an alternator of the kind split"):
        Bench(BenchSetup(fault="grounded_stator", build=build_of("split")))
    with pytest.raises(ValueError, match="There is no alternator 'steam'; there are: regulated"):
        kind_named("steam")


def test_it_is_chosen_on_the_command_line_and_a_fault_that_can_not_be_ends_there(
    capsys: pytest.CaptureFixture[str],
) -> None:
    setup = setup_from(parse_options(["--alternator", "split", "--fault", "dead_regulator"]))
    assert (setup.build.alternator, setup.fault) == ("split", "dead_regulator")
    with pytest.raises(SystemExit):
        parse_options(["--alternator", "dc_only", "--fault", "dead_regulator"])
    assert "A dc_only alternator has no fault dead_regulator; it has: healthy," in capsys.readouterr().err


def test_a_line_that_asks_for_such_a_fault_is_answered_with_why() -> None:
    bench = Bench(BenchSetup(build=build_of("dc_only")))
    answer = obey(bench, "fault dead_regulator")
    assert "no dead_regulator on an alternator of the kind dc_only" in answer["error"]
    assert "error" not in obey(bench, "fault open_diode")
