"""The bench as a whole, on the caller's time."""

from __future__ import annotations

import json
import re

import pytest

from drivers.bench.controls import obey
from drivers.bench.faults import FAULTS
from drivers.bench.leads import LEADS
from drivers.bench.model import Bench, BenchSetup


def heard(bench: Bench, steps_s: list[float]) -> tuple[list[float], list[str]]:
    tach: list[str] = []
    for step_s in steps_s:
        bench.step(step_s)
        tach.extend(line.text for line in bench.tach.take(bench.t_s))
    return [result.value for result in bench.meter.results], tach


def test_the_same_seed_says_the_same_and_another_does_not() -> None:
    setup = BenchSetup(fault="intermittent_joint", script="sweep", seed=7, false_tach=0.1)
    assert heard(Bench(setup), [8.0]) == heard(Bench(setup), [8.0])
    other = BenchSetup(fault="intermittent_joint", script="sweep", seed=8, false_tach=0.1)
    assert heard(Bench(setup), [8.0]) != heard(Bench(other), [8.0])


def test_steps_of_any_length_come_to_the_same() -> None:
    whole = heard(Bench(BenchSetup(script="sweep")), [9.0])
    parts = heard(Bench(BenchSetup(script="sweep")), [0.003] * 1000 + [0.5] * 4 + [0.0171] * 100 + [2.29])
    assert parts == whole


def test_readings_scaled_to_the_test_speed_find_the_true_volts() -> None:
    bench = Bench(BenchSetup(script="work", seed=5))
    bench.step(3.0)
    from_revolutions, from_s = bench.machine.engine.revolutions, bench.t_s
    bench.meter.restart()
    bench.step(15.0)
    mean_rpm = 60.0 * (bench.machine.engine.revolutions - from_revolutions) / (bench.t_s - from_s)
    volts = [result.value for result in bench.meter.results]
    found_v = sum(volts) / len(volts) * 3600.0 / mean_rpm / (1.0 + bench.meter.gain_error("VOLT:AC"))
    assert found_v == pytest.approx(bench.machine.rated_v(), rel=0.002)


def test_the_stated_lag_is_that_between_the_two_instruments() -> None:
    """On a straight ramp, volts and speed that arrive together differ by the slope times the lag."""
    bench = Bench(BenchSetup(script="sweep", seed=5))
    bench.step(2.5)
    pairs = []
    for _ in range(1600):
        bench.step()
        for line in bench.tach.take(bench.t_s):
            if bench.meter.results and bench.meter.results[-1].ready_s > 3.5:
                volts = bench.meter.results[-1]
                pairs.append((volts.ready_s - line.ready_s, volts.value, float(line.text.split()[0])))
    truth = bench.truth()
    k = bench.machine.rated_v() / 3600.0 * (1.0 + bench.meter.gain_error("VOLT:AC"))
    slope_rpm_per_s = 2000.0 / 11.0
    lags_s = [later_s - (volts / k - rpm) / slope_rpm_per_s for later_s, volts, rpm in pairs]
    assert sum(lags_s) / len(lags_s) == pytest.approx(truth["lag_s"], abs=0.06)
    assert truth["lag_s"] == pytest.approx(0.15)


def test_the_truth_can_be_written_down() -> None:
    for fault in FAULTS:
        truth = json.loads(json.dumps(Bench(BenchSetup(fault=fault)).truth()))
        assert truth["rated_speed_rpm"] == 3600.0
        assert truth["rated_voltage_V"] == Bench(BenchSetup(fault=fault)).machine.rated_v()


def test_the_engine_stops_when_told() -> None:
    bench = Bench(BenchSetup(script="work", stop_at_s=5.0))
    bench.step(4.9)
    assert bench.machine.engine.speed_rpm > 3500.0
    bench.step(6.0)
    assert bench.machine.engine.speed_rpm == 0.0
    assert bench.meter.results[-1].value == 0.0


@pytest.mark.parametrize("place", LEADS)
def test_the_leads_can_go_to_every_place(place: str) -> None:
    bench = Bench(BenchSetup(script="work"))
    assert "done" in obey(bench, json.dumps({"leads": place}))
    bench.step(1.0)
    assert bench.leads == place
    assert len(bench.meter.results) >= 1
    assert (bench.machine.charging.rectified_a == 0.0) == (place in {"stator", "stator_to_ground"})


def test_a_repair_changes_the_parts_and_keeps_engine_battery_and_time() -> None:
    bench = Bench(BenchSetup(fault="weak_magnets", script="work", leads="battery"))
    bench.step(20.0)
    speed_rpm, state = bench.machine.engine.speed_rpm, bench.machine.charging.battery.state_of_charge
    obey(bench, '{"loads": ["work_lamp"]}')
    assert obey(bench, '{"fault": "healthy"}')["t_s"] == 20.0
    assert bench.machine.engine.speed_rpm == speed_rpm
    assert bench.machine.charging.battery.state_of_charge == state
    assert bench.machine.charging.loads.current_a(12.8) == pytest.approx(2.2)
    assert bench.machine.rated_v() > 27.0
    bench.step(5.0)
    assert bench.machine.charging.battery_a > 5.0


def test_every_fault_can_be_repaired() -> None:
    for fault in FAULTS:
        bench = Bench(BenchSetup(fault=fault, script="work"))
        bench.repair()
        assert bench.truth() == Bench(BenchSetup(script="work")).truth()
        assert bench.machine.joint.opens_per_s == 0.0
        assert bench.machine.charging.loads.current_a(12.8) == pytest.approx(6.2)
        bench.step(5.0)
        assert bench.machine.engine.speed_rpm > 3500.0


def test_what_a_line_can_change() -> None:
    bench = Bench(BenchSetup(script="work"))
    answer = obey(bench, '{"script": "stopped", "wiggle": true, "truth": true}')
    assert answer["truth"] == bench.truth()
    bench.step(8.0)
    assert bench.machine.engine.speed_rpm == 0.0
    assert bench.machine.wiggled
    obey(bench, '{"script": "idle"}')
    bench.step(8.0)
    assert bench.machine.engine.speed_rpm == pytest.approx(1800.0, abs=60.0)
    obey(bench, '{"stop_engine": true}')
    bench.step(8.0)
    assert bench.machine.engine.speed_rpm == 0.0


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("{not JSON", "Expecting property name"),
        ("dance", "'dance' is nothing the bench can do"),
        ("leads", "'leads' is nothing"),
        ("leads moon", "no place 'moon'.*battery"),
        ("wait 1e9", "wait takes 0 to 600 s"),
        ("wait nan", "wait takes 0 to 600 s"),
        ("engine backwards", "no script 'backwards'"),
        (";;", "at least one key"),
        ("[]", "JSON object"),
        ("{}", "JSON object"),
        ('{"leads": "moon"}', "no place 'moon'.*battery"),
        ('{"weather": "rain"}', "nothing called 'weather'.*leads"),
        ('{"fault": "gremlins"}', "no fault 'gremlins'"),
        ('{"loads": 3}', "by a list of names, 'on' or 'off', not by 3"),
        ('{"loads": ["heater"]}', "no load 'heater'"),
    ],
)
def test_a_line_that_makes_no_sense_is_answered_and_changes_nothing(line: str, says: str) -> None:
    bench = Bench(BenchSetup(script="work"))
    assert re.search(says, obey(bench, line)["error"])
    assert (bench.leads, bench.machine.condition.name) == ("stator", "healthy")


def test_plain_words_do_the_same_as_json() -> None:
    bench = Bench(BenchSetup(script="hold"))
    assert obey(bench, "leads battery; engine stopped; loads off; wiggle on")["done"] == {
        "leads": "battery",
        "engine": "stopped",
        "loads": "off",
        "wiggle": True,
    }
    bench.step(8.0)
    assert (bench.leads, bench.machine.engine.speed_rpm, bench.machine.wiggled) == ("battery", 0.0, True)
    assert bench.machine.charging.loads.current_a(12.8) == 0.0
    obey(bench, "engine test speed; loads work_lamp spray_pump")
    bench.step(6.0)
    assert bench.machine.engine.speed_rpm > 3400.0
    assert bench.machine.charging.loads.current_a(12.8) == pytest.approx(5.8)
    obey(bench, "stall")
    bench.step(8.0)
    assert bench.machine.engine.speed_rpm == 0.0
    assert "leads PLACE" in "\n".join(obey(bench, "?")["help"])


def test_time_can_pass_at_once_and_nobody_hears_the_tach_meanwhile() -> None:
    bench = Bench(BenchSetup(script="work"))
    answer = obey(bench, "wait 30")
    assert answer["t_s"] == pytest.approx(30.0)
    assert bench.tach.take(bench.t_s) == []
    assert not bench.meter.results
