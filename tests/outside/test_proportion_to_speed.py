"""Output in proportion to speed: textbook machines through the project's rated output, and its budget.

The textbooks' machines are e.m.f. generators read at one steady speed; a run of theirs is a few dozen equal
readings. Where a book varies flux or load, the project must refuse to scale, or say what it sees.
"""

from __future__ import annotations

import GTC
import numpy as np
import pytest
from uncertainties import ufloat

from daq.align.lag import LagEstimate
from daq.rated.budget import combine
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.line_fit import fit_through_origin
from daq.rated.output import CountedRows, RatedOutput, rated_output
from daq.run.analysis import analyse
from daq.verdict.judge import judge
from tests.daq.verdict.builders import evidence_of
from tests.outside.published import held_against
from tests.runs import machine_of, run_of

NO_LIMITS = InstrumentLimits(known=False, share=0.0, counts=0.0, digit=0.0)
LAG_ZERO = LagEstimate(0.0, 0.0, determined=True)


def steady(volts: float, rpm: float, count: int = 20) -> CountedRows:
    return CountedRows(np.arange(float(count)), np.full(count, volts), np.full(count, rpm), np.zeros(count))


def output_at(
    rows: CountedRows,
    rated_rpm: float,
    meter: InstrumentLimits = NO_LIMITS,
    tach: InstrumentLimits = NO_LIMITS,
) -> RatedOutput:
    output = rated_output(rows, rated_rpm, LAG_ZERO, meter, tach)
    assert output is not None
    return output


@held_against("G14")
def test_uncertainty_of_a_normalised_voltage() -> None:
    # u = 0.12 V and 5.5 rpm as the limits of rectangles; digits so fine that they add nothing.
    meter = InstrumentLimits(known=True, share=0.0, counts=0.12 * 3.0**0.5 / 1e-9, digit=1e-9)
    tach = InstrumentLimits(known=True, share=0.0, counts=5.5 * 3.0**0.5 / 1e-9, digit=1e-9)
    output = output_at(steady(28.35, 3642.0), 3600.0, meter, tach)
    assert round(output.rated_voltage_v, 4) == 28.0231
    both = [c for c in output.budget.contributions if c.name.startswith("accuracy")]
    assert [c.standard_uncertainty for c in both] == pytest.approx([0.12, 5.5])
    u = combine(both).standard_uncertainty
    assert u == pytest.approx(0.1259393, abs=5e-8)
    volts, rpm = ufloat(28.35, 0.12), ufloat(3642.0, 5.5)
    assert u == pytest.approx((volts * 3600.0 / rpm).std_dev, rel=1e-9)
    peer = GTC.ureal(28.35, 0.12) * 3600.0 / GTC.ureal(3642.0, 5.5)
    assert (output.rated_voltage_v, u) == pytest.approx((peer.x, peer.u), rel=1e-9)
    # What else is in the whole budget is a departure from proportion over 42 rpm.
    assert output.budget.standard_uncertainty == pytest.approx(0.1259393, abs=2e-5)


@held_against("V1")
def test_emf_at_another_speed() -> None:
    output = output_at(steady(150.0, 20.0 * 60.0), 25.0 * 60.0)
    assert output.rated_voltage_v == pytest.approx(187.5, rel=1e-12)
    assert output.scaled
    assert not output.near


@held_against("V2")
def test_emf_with_another_flux() -> None:
    """Flux is the machine's, speed is the run's: 0.07 Wb gives 105 V at 20 rev/s and 126 V at 24 rev/s."""
    at_008, at_007 = 150.0 * 0.08 / 0.10, 150.0 * 0.07 / 0.10
    assert output_at(steady(at_008, 1200.0), 1200.0).rated_voltage_v == pytest.approx(120.0)
    assert output_at(steady(at_007, 1200.0), 24.0 * 60.0).rated_voltage_v == pytest.approx(126.0)


@held_against("V3")
def test_a_machine_whose_flux_changes_is_not_called_proportional() -> None:
    fast, slow = steady(200.0, 30.0 * 60.0), steady(250.0, 20.0 * 60.0)
    flux = [fit_through_origin(r.speed_rpm, r.voltage_v).slope for r in (fast, slow)]
    assert flux[1] / flux[0] == pytest.approx(1.875, rel=1e-12)
    run = CountedRows(
        np.arange(40.0),
        np.concatenate((fast.voltage_v, slow.voltage_v)),
        np.concatenate((fast.speed_rpm, slow.speed_rpm)),
        np.zeros(40),
    )
    output = output_at(run, 1800.0)
    assert not output.scaled
    result = judge(output, evidence_of(minimum_v=100.0))
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    assert any("do not follow the speed" in reason for reason in result.reasons)


@held_against("V4")
def test_curve_read_at_another_speed() -> None:
    output = output_at(steady(400.0, 1800.0), 1500.0)
    assert round(output.rated_voltage_v) == 333
    assert output.rated_voltage_v == pytest.approx(333.33, abs=0.005)


@held_against("V5")
def test_open_circuit_volts_scale_and_loaded_volts_do_not() -> None:
    amperes, ohms = 50.0, 0.40
    open_circuit = 200.0 + amperes * ohms
    assert open_circuit == 220.0
    scaled = output_at(steady(open_circuit, 1000.0), 800.0).rated_voltage_v
    assert scaled - amperes * ohms == pytest.approx(156.0)
    assert output_at(steady(200.0, 1000.0), 800.0).rated_voltage_v == pytest.approx(160.0)


@held_against("V5")
def test_a_sweep_under_load_shows_as_a_line_beside_zero() -> None:
    """The same machine at 50 A from 800 to 1000 rpm: 0.22 V per rpm less 20 V."""
    rpm = np.linspace(800.0, 1000.0, 60)
    noise = np.random.default_rng(1).normal(0.0, 0.05, 60)
    run = CountedRows(np.arange(60.0), 0.22 * rpm - 20.0 + noise, rpm, np.full(60, 3.3))
    output = output_at(run, 1000.0)
    assert output.proportion.line is not None
    assert output.proportion.line.offset == pytest.approx(-20.0, abs=0.5)
    said = judge(output, evidence_of(minimum_v=100.0)).reasons
    assert any("misses zero" in reason and "a load still connected" in reason for reason in said)


@held_against("V6")
def test_emf_behind_brushes_and_with_a_weaker_field() -> None:
    ohms, brushes_v, amperes = 0.04, 2.0, 200.0
    emf = 125.0 + amperes * ohms + brushes_v
    assert emf == 135.0
    weaker = output_at(steady(0.8 * emf, 1200.0), 1000.0).rated_voltage_v
    assert weaker == pytest.approx(90.0)
    # The lamps' resistance stays: current and terminal volts follow from the scaled e.m.f.
    load = 125.0 / amperes
    current = (weaker - brushes_v) / (load + ohms)
    assert (current, current * load) == pytest.approx((132.33, 82.71), abs=0.005)
    wrong = output_at(steady(0.8 * 125.0, 1200.0), 1000.0).rated_voltage_v
    assert wrong - current * load > 0.5


@held_against("V7")
def test_a_loaded_run_is_not_judged() -> None:
    """8 A into 60 Ω, 1 Ω inside: 480 V at the terminals of a machine that gives 488 V, limit 485 V."""
    terminal, emf, limit = 8.0 * 60.0, 8.0 * (60.0 + 1.0), 485.0
    assert (terminal, emf) == (480.0, 488.0)
    t = np.arange(0.0, 30.0, 0.5)
    machine = machine_of(1500.0, limit)
    speed = (t, np.full(len(t), 1500.0))
    loaded = analyse(run_of((t, np.full(len(t), terminal)), speed, machine=machine, current_a=8.0))
    assert loaded.result.verdict == "not_enough_data"
    assert loaded.result.rated_voltage_V is None
    assert not np.any(np.isfinite(loaded.rows.rated_voltage_V))
    assert any("8.0 A flowed" in reason for reason in loaded.result.reasons)
    unloaded = analyse(run_of((t, np.full(len(t), emf)), speed, machine=machine, current_a=0.02))
    assert unloaded.result.verdict == "pass"
    assert unloaded.result.rated_voltage_V == pytest.approx(emf)


@pytest.mark.parametrize("rpm", [1800.0, 3000.0, 3590.0, 4000.0])
@held_against("V8")
def test_correction_by_the_ratio_of_speeds(rpm: float) -> None:
    output = output_at(steady(20.0 * rpm / 3600.0, rpm), 3600.0)
    assert output.rated_voltage_v == pytest.approx(20.0, rel=1e-12)


def test_ten_ampere_class_at_rated_speed() -> None:
    """20 V AC at 3600 rpm for a 10 A class of regulated alternator: common practice, no source."""
    output = output_at(steady(18.0, 3240.0), 3600.0)
    assert output.rated_voltage_v == pytest.approx(20.0)
    assert output.near
