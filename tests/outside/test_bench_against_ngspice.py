"""The bench's charging current against a circuit simulator over the same netlist.

Source of the other values: ngspice (Debian package ngspice), transient analysis, with its own
diode equation. The netlist is written here from the parts' values, by hand and not by the bench.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from drivers.bench.alternator import Winding
from drivers.bench.battery import Battery
from drivers.bench.charging import ChargingSystem
from drivers.bench.kinds import build_of
from drivers.bench.loads import Loads
from drivers.bench.model import Bench, BenchSetup
from drivers.bench.rectifier import Bridge

pytestmark = pytest.mark.skipif(
    shutil.which("ngspice") is None, reason="the program ngspice is not installed"
)

SPEEDS_RPM = (1800, 2400, 3000, 3600)
VOLTS_PER_RPM = 28.0 / 3600.0
POLE_PAIRS = 6
WINDING_OHM = 0.25
WINDING_H = 0.8e-3
WIRING_OHM = 0.02
BATTERY_OHM = 0.03
TOLERANCE = 0.05

# A silicon rectifier of this size: about 0.87 V at 1 A and 1.06 V at 10 A.
DIODE_MODEL = ".model rectifier D(IS=1e-8 N=1.8 RS=0.01)"

WHOLE = """
Lw  e    lead {h}
Rw  lead a    {ohm}
Ve  e    b    SIN(0 {peak} {hz})
"""
GROUNDED = """
Lx  x1   x2 {hx}
Rx  x2   a  {ohmx}
Vx  x1   0  SIN(0 {peakx} {hz})
Ly  y1   y2 {hy}
Ry  y2   b  {ohmy}
Vy  0    y1 SIN(0 {peaky} {hz})
"""
ONE_END_GROUNDED = """
Lw  e    lead {h}
Rw  lead a    {ohm}
Ve  e    0    SIN(0 {peak} {hz})
"""
IN_THE_LEAD = """
{first}D1 a    plus rectifier
Ra a 0 1meg
Ea across 0 a 0 1
Rwire plus  post {wiring}
Rbat  post  emf  {battery}
Vbat  emf   0    {emf_v}
"""
BRIDGE = """
{first}D1 a    plus rectifier
D2 b    plus rectifier
D3 0    a    rectifier
D4 0    b    rectifier
Ra a 0 1meg
Rb b 0 1meg
Ea across 0 a b 1
Rwire plus  post {wiring}
Rbat  post  emf  {battery}
Vbat  emf   0    {emf_v}
"""


def simulated(
    tmp_path: Path,
    winding: str,
    speed_rpm: float,
    emf_v: float,
    first: str = "",
    *,
    diodes: str = BRIDGE,
    ohm: float = WINDING_OHM,
    henry: float = WINDING_H,
) -> dict[str, float]:
    """Mean current into the battery; rms and mean volts between the stator leads and their period; once settled."""
    hz = POLE_PAIRS * speed_rpm / 60.0
    peak = 2**0.5 * VOLTS_PER_RPM * speed_rpm
    at = 0.35
    parts = {"h": henry, "ohm": ohm, "peak": peak, "hz": hz}
    parts |= {"hx": at * WINDING_H, "ohmx": at * WINDING_OHM, "peakx": at * peak}
    parts |= {"hy": (1 - at) * WINDING_H, "ohmy": (1 - at) * WINDING_OHM, "peaky": (1 - at) * peak}
    bridge = diodes.format(first=first, wiring=WIRING_OHM, battery=BATTERY_OHM, emf_v=emf_v)
    end_s, cycles = 60 / hz, 20
    netlist = (
        f"charging\n{DIODE_MODEL}{winding.format(**parts)}{bridge}"
        f".options reltol=1e-5\n.tran {1 / hz / 500} {end_s} 0 {1 / hz / 500}\n"
        f".measure tran charging AVG i(Vbat) FROM={end_s - cycles / hz} TO={end_s}\n"
        f".measure tran stator RMS v(across) FROM={end_s - cycles / hz} TO={end_s}\n"
        f".measure tran mean AVG v(across) FROM={end_s - cycles / hz} TO={end_s}\n"
        f".measure tran period TRIG v(across) VAL=0 RISE=30 TARG v(across) VAL=0 RISE=40\n.end\n"
    )
    file = tmp_path / "charging.cir"
    file.write_text(netlist, encoding="ascii")
    done = subprocess.run(
        ["ngspice", "-b", str(file)], capture_output=True, text=True, timeout=60, check=False
    )
    found = dict(re.findall(r"^(charging|stator|mean|period)\s*=\s*(\S+)", done.stdout, re.MULTILINE))
    assert set(found) == {"charging", "stator", "mean", "period"}, done.stdout + done.stderr
    return {name: float(value) for name, value in found.items()}


def bench_system(bridge: Bridge | None = None, ground_at_share: float | None = None) -> ChargingSystem:
    loads = Loads()
    loads.switch([])
    winding = Winding(VOLTS_PER_RPM, POLE_PAIRS, WINDING_OHM, WINDING_H)
    battery = Battery(0.5, resistance_ohm=BATTERY_OHM)
    bridge = bridge or Bridge(wiring_ohm=WIRING_OHM)
    return ChargingSystem(winding, bridge, battery, loads, ground_at_share=ground_at_share)


def run_one_second(system: ChargingSystem, speed_rpm: float) -> float:
    """Run the bench's circuit at a speed; gives the e.m.f. that the battery stood at in the last step."""
    emf_v = system.battery.emf_v
    for _ in range(200):
        emf_v = system.battery.emf_v
        system.step(0.005, speed_rpm)
    return emf_v


@pytest.mark.parametrize("speed_rpm", SPEEDS_RPM)
def test_charging_current_of_a_healthy_machine(tmp_path: Path, speed_rpm: float) -> None:
    system = bench_system()
    emf_v = run_one_second(system, speed_rpm)
    other = simulated(tmp_path, WHOLE, speed_rpm, emf_v)
    assert other["charging"] > 1.0
    assert system.battery_a == pytest.approx(other["charging"], rel=TOLERANCE)
    assert system.stator_v == pytest.approx(other["stator"], rel=TOLERANCE)
    # With all diodes there nothing is left over for a mean.
    assert system.stator_dc_v == pytest.approx(0.0, abs=0.02)
    assert other["mean"] == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("speed_rpm", SPEEDS_RPM)
def test_the_frequency_is_pole_pairs_times_revolutions_a_second(tmp_path: Path, speed_rpm: float) -> None:
    """f = p·n/60; 360 Hz for 12 poles at 3600 rpm. The bench's is told by its meter, on hertz."""
    other = simulated(tmp_path, WHOLE, speed_rpm, 12.6)
    bench = Bench(BenchSetup(script="work" if speed_rpm == 3600 else "idle", leads="stator"))
    bench.meter.configure("FREQ")
    bench.machine.engine.limit_rpm = speed_rpm
    bench.step(4.0)
    true_hz = 10.0 / other["period"]
    assert true_hz == pytest.approx(POLE_PAIRS * speed_rpm / 60.0, rel=0.002)
    assert bench.machine.charging.winding.frequency_hz(speed_rpm) == pytest.approx(true_hz, rel=0.002)
    if speed_rpm in {1800, 3600}:
        assert bench.meter.results[-1].value == pytest.approx(true_hz, rel=0.02)  # the governor hunts


@pytest.mark.parametrize("speed_rpm", SPEEDS_RPM)
def test_charging_current_with_one_diode_open(tmp_path: Path, speed_rpm: float) -> None:
    system = bench_system(Bridge(wiring_ohm=WIRING_OHM, one_diode_open=True))
    emf_v = run_one_second(system, speed_rpm)
    other = simulated(tmp_path, WHOLE, speed_rpm, emf_v, first="*")
    assert system.battery_a == pytest.approx(other["charging"], rel=TOLERANCE)
    # What the job's test for missing half waves reads: the current flows one way, and leaves its mean in the winding.
    assert abs(system.stator_dc_v) == pytest.approx(abs(other["mean"]), rel=TOLERANCE)
    assert abs(other["mean"]) == pytest.approx(WINDING_OHM * other["charging"], rel=TOLERANCE)


@pytest.mark.parametrize("speed_rpm", [3000, 3600])
def test_charging_current_with_the_winding_grounded(tmp_path: Path, speed_rpm: float) -> None:
    system = bench_system(ground_at_share=0.35)
    emf_v = run_one_second(system, speed_rpm)
    other = simulated(tmp_path, GROUNDED, speed_rpm, emf_v)
    assert system.battery_a == pytest.approx(other["charging"], rel=TOLERANCE)
    assert other["charging"] < 0.25 * simulated(tmp_path, WHOLE, speed_rpm, emf_v)["charging"]


@pytest.mark.parametrize("kind", ["dc_only", "split"])
@pytest.mark.parametrize("speed_rpm", SPEEDS_RPM)
def test_charging_current_through_one_diode_in_the_lead(tmp_path: Path, kind: str, speed_rpm: float) -> None:
    """The bench's DC-only alternator, and the charging circuit of its split ones below their regulator's volts."""
    build = build_of(kind)
    loads = Loads()
    loads.switch([])
    system = ChargingSystem(
        Winding(VOLTS_PER_RPM, POLE_PAIRS, build.resistance_ohm, build.inductance_h),
        Bridge(wiring_ohm=WIRING_OHM, half_wave=True),
        Battery(0.5, resistance_ohm=BATTERY_OHM),
        loads,
    )
    emf_v = run_one_second(system, speed_rpm)
    other = simulated(
        tmp_path,
        ONE_END_GROUNDED,
        speed_rpm,
        emf_v,
        diodes=IN_THE_LEAD,
        ohm=build.resistance_ohm,
        henry=build.inductance_h,
    )
    assert other["charging"] > 0.5
    assert system.battery_a == pytest.approx(other["charging"], rel=TOLERANCE)
    assert abs(system.stator_dc_v) == pytest.approx(abs(other["mean"]), rel=TOLERANCE)
