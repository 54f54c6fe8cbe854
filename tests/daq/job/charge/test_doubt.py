"""Doubt of the budget by number: what one meter has in common does not average away, and what is even is not told."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from daq.cards.machine_parts import BatteryCard, DutyCard
from daq.job.charge.budget import charge_budget, output_points
from daq.job.charge.budget_words import budget_lines, budget_sentence
from daq.job.charge.drawn import Drawn
from daq.job.charge.drop import what_to_drop
from daq.job.charge.hours import hours_of
from daq.job.charge.output_curve import OutputCurve
from daq.job.evidence.observed import CurvePoint
from daq.job.job import Job
from daq.job.judging.charging import judge_charging
from daq.job.judging.given import Measured
from daq.job.physics.rest_voltage import ChargeBand
from daq.model.clock import ManualClock
from tests.daq.job.builders import CART, given, observed

JOBS = Path(__file__).parents[4] / "recordings" / "jobs"
BATTERY = BatteryCard(nominal_voltage_v=12, capacity_ah=18, chemistry="flooded")
BAND = ChargeBand(0.5, 0.7)


@pytest.mark.parametrize("name", ["too-many-loads", "intermittent-joint"])
def test_one_recording_for_two_readings_counts_once(name: str) -> None:
    status = Job.open(JOBS / name / "job.jsonl", ManualClock()).status()
    work, idle, budget = status.given.value("current_work"), status.given.value("current_idle"), status.budget
    assert work is not None
    assert idle is not None
    assert budget is not None
    assert budget.at_work is not None
    assert budget.at_idle is not None
    assert budget.at_work.u >= 0.99 * work.u
    assert budget.at_idle.u >= 0.99 * idle.u


def test_the_same_points_of_one_recording_are_taken_once() -> None:
    points = (CurvePoint(1800.0, -2.0, 0.1), CurvePoint(3600.0, 3.0, 0.1))
    both = [
        observed(slot, value, curve=points, origin="a.jsonl")
        for slot, value in (("current_idle", -2.0), ("current_work", 3.0))
    ]
    assert len(output_points(given(*both), Measured(6.0, 0.1))) == 2


def test_a_meters_own_limit_does_not_average_away() -> None:
    """Two points of u = 0.05: 0.03 scatter each, 0.04 the meter's. Mean: sqrt(0.03²/2 + 0.04²) = 0.04528."""
    point = CurvePoint(3600.0, 10.0, 0.05, 0.04)
    (merged,) = OutputCurve([point, point]).points
    assert merged.u_current_a == pytest.approx(0.045277, abs=1e-6)
    assert merged.u_limit_a == pytest.approx(0.04)
    (free,) = OutputCurve([CurvePoint(3600.0, 10.0, 0.05)] * 2).points
    assert free.u_current_a == pytest.approx(0.05 / 2**0.5)


def test_between_speeds_a_meters_own_limit_stays_whole() -> None:
    """Halfway between points of u = 0.05, 0.04 of it the meter's: sqrt(0.03²/2 + 0.04²)."""
    points = [CurvePoint(n, a, 0.05, 0.04) for n, a in ((1800.0, 2.0), (2600.0, 6.0), (3600.0, 10.0))]
    at = OutputCurve(points).at(3100.0)
    assert at is not None
    assert at.u_current_a == pytest.approx(0.045277, abs=1e-6)


def test_a_typed_readings_limit_is_kept_apart_from_its_last_digit() -> None:
    reading = observed("current_work", 4.0, 0.0, speed_rpm=3600.0, share=0.02, counts=0.05, digit=0.01)
    (point,) = output_points(given(reading), Measured(0.0, 0.0))
    assert point.u_limit_a == pytest.approx(((0.02 * 4.0) ** 2 + 0.05**2) ** 0.5 / 3**0.5)
    assert point.u_current_a == pytest.approx((point.u_limit_a**2 + 0.01**2 / 12.0) ** 0.5)


def test_hours_are_those_of_twice_the_doubt() -> None:
    """2 ± 2·0.5 A: full in 0.3·18/0.85/3 to 0.5·18/0.85/1 h."""
    full = hours_of(Measured(2.0, 0.5), BAND, BATTERY)
    assert full is not None
    assert full.low_h == pytest.approx(2.1176, abs=1e-4)
    assert full.high_h == pytest.approx(10.588, abs=1e-3)
    flat = hours_of(Measured(-5.0, 1.0), BAND, BATTERY)
    assert flat is not None
    assert flat.low_h == pytest.approx(0.5 * 20.0 * (18.0 / (20.0 * 7.0)) ** 1.2)
    assert flat.high_h == pytest.approx(0.7 * 20.0 * (18.0 / (20.0 * 3.0)) ** 1.2)


@pytest.mark.parametrize("mean_a", [0.0, 0.1, -0.1, 0.3, -0.3])
def test_a_mean_that_may_be_either_fills_and_empties_nothing(mean_a: float) -> None:
    assert hours_of(Measured(mean_a, 0.2), BAND, BATTERY) is None
    load = replace(CART.load[1], share=1.0)
    card = replace(CART, load=(load,), duty=DutyCard(idle_share=0.0))
    budget = charge_budget(
        given(
            observed("current_work", mean_a, 0.2, speed_rpm=3600.0),
            machine=card,
            load_current=2.0,
            rest_voltage=12.4,
        )
    )
    assert budget is not None
    assert budget.hours is None
    assert any("whether it gains or loses is too close to call" in line for line in budget_lines(budget))


@pytest.mark.parametrize(("amps", "word"), [(0.05, "gains"), (0.045, "neither"), (-0.05, "loses")])
def test_budget_and_judgement_say_the_same_of_the_same_amps(amps: float, word: str) -> None:
    """u = 0.03 A: 0.05 A is a gain with 95.2 %, 0.045 A is not with 93.3 %."""
    reading = observed("current_work", amps, 0.03, speed_rpm=3600.0)
    idle = observed("current_idle", amps, 0.03, speed_rpm=1800.0)
    found = given(reading, idle, machine=replace(CART, load=(), duty=None))
    lines = judge_charging(found).lines
    at_work = next(line for line in lines if line.title == "Amps into the battery at test speed")
    assert (at_work.verdict == "pass") is (word == "gains")
    assert f"the battery {word}" in lines[-1].sentence
    assert budget_sentence(charge_budget(found)).startswith(f"At work speed it {word}")


def test_breaking_even_is_certain_only_where_it_is() -> None:
    """0.1 A above what is drawn, give or take 0.6: no speed at which it surely gains or loses was read."""
    close = OutputCurve([CurvePoint(1800.0, 6.1, 0.3), CurvePoint(3600.0, 9.0, 0.3)]).break_even(6.0, 0.1)
    assert (
        close.words
        == "Whether it gains already at 1800 rpm, the lowest speed that was read, is too close to call."
    )
    sure = OutputCurve([CurvePoint(1800.0, 7.0, 0.3)]).break_even(6.0, 0.1)
    assert sure.words.startswith("It gains already at 1800 rpm")
    below = OutputCurve([CurvePoint(1800.0, 2.0, 0.1), CurvePoint(3600.0, 5.9, 0.3)]).break_even(6.0, 0.1)
    assert (
        below.words
        == "Whether it breaks even up to 3600 rpm, the highest speed that was read, is too close to call."
    )
    rough = OutputCurve([CurvePoint(1800.0, 5.2, 0.3), CurvePoint(3600.0, 6.2, 0.3)]).break_even(6.0, 0.1)
    assert "± " in rough.words
    assert "or not at all" in rough.words


def drawn(*loads: tuple[str, float]) -> Drawn:
    total = Measured(sum(amps for _, amps in loads), 0.01)
    return Drawn(total, total, True, loads)


def test_what_to_leave_off_is_only_offered_and_what_does_not_belong_comes_first() -> None:
    day = Measured(-0.3, 0.05)
    lamp = what_to_drop(day, drawn(("controller", 0.5), ("work lamp", 2.2)))
    assert (
        lamp == "Without the controller (0.5 A on average) it would gain, if the machine can run without it."
    )
    added = what_to_drop(day, drawn(("controller", 0.5), ("loads not on the card", 1.5)))
    assert added == "Without the loads that are not on the card (1.5 A on average) it would gain."
    several = what_to_drop(Measured(-2.5, 0.05), drawn(("lamp", 2.0), ("loads not on the card", 1.5)))
    assert several == (
        "Without the loads that are not on the card and the lamp together (3.5 A on average) it would gain, if the "
        "machine can run without them."
    )
