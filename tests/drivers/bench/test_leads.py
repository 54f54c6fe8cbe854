"""What stands where the leads are put, beyond what the faults show."""

from __future__ import annotations

import pytest

from drivers.bench.model import Bench, BenchSetup


def last(leads: str, function: str, script: str) -> float:
    bench = Bench(BenchSetup(script=script, seed=3, leads=leads, state_of_charge=0.5))
    bench.meter.configure(function)
    bench.step(12.0)
    return bench.meter.results[-1].value


def test_the_output_terminal_has_the_batterys_volts_and_while_charging_the_drop_on_top() -> None:
    standing = last("battery", "VOLT", "stopped")
    assert last("output_terminal", "VOLT", "stopped") == pytest.approx(standing, abs=0.02)
    drop = last("output_terminal", "VOLT", "work") - last("battery", "VOLT", "work")
    assert drop == pytest.approx(last("wiring", "VOLT", "work"), abs=0.03)
    assert drop > 0.1


def test_a_whole_fuse_reads_little_more_than_the_meters_leads() -> None:
    assert 0.0 < last("fuse", "RES", "stopped") - last("shorted", "RES", "stopped") + 0.011 < 0.05


def test_the_meters_leads_are_in_every_reading_of_ohms() -> None:
    leads_ohm = last("shorted", "RES", "stopped")
    winding_ohm = Bench(BenchSetup(seed=3)).machine.charging.winding.terminal_ohm
    assert last("stator", "RES", "stopped") - leads_ohm == pytest.approx(winding_ohm, abs=0.021)
