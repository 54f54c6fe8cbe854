"""Throttle scripts and the engine that follows them."""

from __future__ import annotations

from random import Random

import pytest

from drivers.bench.engine import Engine
from drivers.bench.script import SCRIPTS, script_named

STEP_S = 0.005


def speeds_rpm(engine: Engine, seconds: float, setting_rpm: float, load_w: float = 0.0) -> list[float]:
    found = []
    for _ in range(round(seconds / STEP_S)):
        engine.step(STEP_S, setting_rpm, load_w)
        found.append(engine.speed_rpm)
    return found


def mean(values: list[float]) -> float:
    return sum(values) / len(values)


def test_holds_its_setting_and_hunts_slowly_by_a_few_ten_rpm() -> None:
    held = speeds_rpm(Engine(Random(1), start_rpm=3600.0), 60.0, 3600.0)
    assert mean(held) == pytest.approx(3600.0, abs=3.0)
    assert 15.0 < max(held) - 3600.0 < 60.0
    assert 15.0 < 3600.0 - min(held) < 60.0


def test_wide_hunting_is_wider() -> None:
    calm = speeds_rpm(Engine(Random(1), start_rpm=3600.0), 30.0, 3600.0)
    hunts = speeds_rpm(Engine(Random(1), start_rpm=3600.0, hunting=True), 30.0, 3600.0)
    assert max(hunts) - min(hunts) > 2.5 * (max(calm) - min(calm))


def test_governor_limit_holds_whatever_is_set() -> None:
    held = speeds_rpm(Engine(Random(1), start_rpm=1800.0, limit_rpm=3150.0), 40.0, 3600.0)
    assert mean(held[4000:]) == pytest.approx(3150.0, abs=4.0)
    assert max(held) < 3250.0


def test_sags_under_load() -> None:
    free = mean(speeds_rpm(Engine(Random(1), start_rpm=3600.0), 40.0, 3600.0))
    loaded = mean(speeds_rpm(Engine(Random(1), start_rpm=3600.0), 40.0, 3600.0, load_w=130.0))
    assert 10.0 < free - loaded < 40.0


def test_stops_and_stays_stopped() -> None:
    engine = Engine(Random(1), start_rpm=1800.0)
    down = speeds_rpm(engine, 6.0, 0.0)
    assert down == sorted(down, reverse=True)
    assert down[-1] == 0.0


def test_revolutions_are_the_integral_of_speed() -> None:
    engine = Engine(Random(1), start_rpm=1800.0)
    turned = speeds_rpm(engine, 10.0, 3600.0)
    assert engine.revolutions == pytest.approx(sum(turned) / 60.0 * STEP_S, rel=1e-3)


def test_setting_changes_are_followed_within_a_few_seconds() -> None:
    engine = Engine(Random(1), start_rpm=1800.0)
    assert speeds_rpm(engine, 0.2, 3600.0)[-1] < 2300.0
    assert abs(speeds_rpm(engine, 4.0, 3600.0)[-1] - 3600.0) < 60.0


def test_hold_script_warms_up_and_holds() -> None:
    hold = SCRIPTS["hold"]
    assert [hold.setting_rpm(t_s) for t_s in (0.0, 3.0, 4.5, 6.0, 600.0)] == [1800, 1800, 2700, 3600, 3600]


def test_sweep_script_goes_up_and_down_within_forty_seconds_again_and_again() -> None:
    sweep = [SCRIPTS["sweep"].setting_rpm(t_s) for t_s in range(71)]
    top, bottom = sweep.index(3800.0), sweep.index(1800.0, sweep.index(3800.0))
    assert 0 < top < bottom < 40
    assert sweep[7] == sweep[37] == sweep[67]


def test_steps_script_stands_at_four_speeds() -> None:
    steps = SCRIPTS["steps"]
    assert [steps.setting_rpm(t_s) for t_s in (5.0, 12.0, 20.0, 35.0)] == [1800, 2400, 3000, 3600]


def test_an_unknown_script_is_named() -> None:
    with pytest.raises(ValueError, match="no script 'race'.*sweep"):
        script_named("race")
