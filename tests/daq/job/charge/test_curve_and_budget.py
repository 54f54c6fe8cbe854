"""The charge budget: shapes, words, hours, and what to leave off."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given as hypothesis_given
from hypothesis import strategies as st
from msgspec.structs import replace

from daq.cards.machine_parts import BatteryCard, DutyCard
from daq.job.charge.budget import ChargeBudget, charge_budget
from daq.job.charge.budget_words import budget_lines, budget_sentence
from daq.job.charge.hours import hours_of
from daq.job.charge.output_curve import OutputCurve
from daq.job.evidence.observed import CurvePoint
from daq.job.judging.given import Measured
from daq.job.physics.rest_voltage import ChargeBand
from drivers.bench.model import Bench, BenchSetup
from tests.daq.job.builders import CART, curve, given, observed


def measured(
    work: float,
    idle: float | None,
    *,
    drawn: float = 6.0,
    u: float = 0.1,
    changes: dict[str, Any] | None = None,
) -> ChargeBudget:
    readings = [
        observed("current_work", work, u, speed_rpm=3600.0),
        observed("load_current", drawn, 0.02),
        observed("rest_voltage", 12.3),
        observed("battery_temperature", 20.0),
    ]
    if idle is not None:
        readings.append(observed("current_idle", idle, u, speed_rpm=1800.0))
    machine = replace(CART, **(changes or {}))
    budget = charge_budget(given(*readings, machine=machine))
    assert budget is not None
    return budget


def test_plain_words_first() -> None:
    all_on = replace(CART.load[0], share=1.0)
    budget = measured(3.1, -2.0, u=0.2, changes={"load": (all_on, CART.load[1])})
    assert budget_sentence(budget) == (
        "At work speed it gains 3.1 ± 0.4 A; at idle it loses 2.0 ± 0.4 A; with 30 % idling it still gains 1.6 ± 0.4 A."
    )
    assert budget.carries == "yes"
    lines = budget_lines(budget)
    assert lines[0].startswith("At work speed")
    assert any("It breaks even at" in line for line in lines[1:])


def test_loads_that_are_on_for_part_of_the_time_count_for_that_part() -> None:
    """The pump's 4 A are on for half of the time: 2 A less than was drawn in the test."""
    budget = measured(1.0, -4.0)
    assert budget.at_work is not None
    assert budget.all_on_at_work is not None
    assert budget.at_work.value == pytest.approx(3.0)
    assert budget.all_on_at_work.value == pytest.approx(1.0)


def test_what_is_always_on_has_no_doubt_of_its_own() -> None:
    """Amps into the battery were read with the loads on: what they draw falls out."""
    budget = measured(1.0, -4.0, u=0.05)
    assert budget.at_work is not None
    # half of the loads' 0.02 A is spared a third of the time
    assert budget.at_work.u == pytest.approx((0.05**2 + (0.02 / 3.0) ** 2) ** 0.5)


def test_loads_beyond_the_output_name_the_one_to_drop() -> None:
    budget = measured(-1.5, -6.0, changes={"load": CART.load, "duty": DutyCard(idle_share=0.0)})
    assert budget.carries == "yes"  # the pump is off half of the time
    always = tuple(replace(load, share=1.0) for load in CART.load)
    budget = measured(-1.5, -6.0, changes={"load": always, "duty": DutyCard(idle_share=0.0)})
    assert budget.carries == "no"
    assert (
        budget.drop == "Without the lamp (2.0 A on average) it would gain, if the machine can run without it."
    )
    deeper = measured(-5.0, -6.0, changes={"load": always, "duty": DutyCard(idle_share=0.0)})
    assert deeper.drop.startswith("Without the pump and the lamp together (6.0 A")
    dead = measured(-6.0, -6.0, changes={"load": always})
    assert dead.drop.startswith("Even without all its loads")


def test_too_close_is_said() -> None:
    always = tuple(replace(load, share=1.0) for load in CART.load)
    budget = measured(0.05, 0.0, u=0.3, changes={"load": always})
    assert budget.carries == "too_close"
    assert "too close to call" in budget_sentence(budget)


def test_without_idle_the_day_can_not_be_told_but_work_can() -> None:
    budget = measured(3.0, None)
    assert budget.over_the_day is None
    assert budget.carries == "not_known"
    assert any("output at idle was not read" in note for note in budget.notes)
    no_duty = measured(3.0, None, changes={"duty": None})
    assert no_duty.carries == "yes"
    assert any("no duty" in note for note in no_duty.notes)


def test_nothing_known_is_no_budget() -> None:
    assert charge_budget(given(machine=replace(CART, load=()))) is None
    assert "not known" in budget_sentence(None)
    only_loads = charge_budget(given(load_current=6.0))
    assert only_loads is not None
    assert only_loads.carries == "not_known"
    assert "amps at work speed were not read" in budget_sentence(only_loads)


def test_loads_of_the_card_stand_in_and_are_said_to() -> None:
    budget = charge_budget(given(observed("current_work", 3.0, speed_rpm=3600.0)))
    assert budget is not None
    assert any("the card's" in note for note in budget.notes)


def test_a_slow_engine_works_at_the_speed_it_reaches() -> None:
    readings = [observed("current_work", 3.0, speed_rpm=3130.0), observed("governed_speed", 3130.0, 2.0)]
    budget = charge_budget(given(*readings, load_current=6.0))
    assert budget is not None
    assert budget.at_work is not None
    assert any("3130 rpm that the engine reaches" in note for note in budget.notes)


TRUTH_V = 12.4
SPEEDS = (2100.0, 2400.0, 2700.0, 3000.0, 3300.0)


def bench_output(speed_rpm: float) -> float:
    return Bench(BenchSetup(seed=2)).machine.charging.full_output(speed_rpm, TRUTH_V).mean_a


def test_two_speeds_bracket_the_bench_between_them() -> None:
    points = curve(*((n, bench_output(n)) for n in (1800.0, 3600.0)))
    found = OutputCurve(points)
    for speed in SPEEDS:
        at = found.at(speed)
        assert at is not None
        assert abs(at.current_a - bench_output(speed)) < 3.0 * at.u_current_a


def test_more_speeds_come_closer() -> None:
    points = curve(*((n, bench_output(n)) for n in (1800.0, 2400.0, 3000.0, 3600.0)))
    found = OutputCurve(points)
    for speed in SPEEDS:
        at = found.at(speed)
        assert at is not None
        assert at.current_a == pytest.approx(bench_output(speed), abs=0.4)


def test_break_even_holds_the_benchs_own() -> None:
    """The speed at which the bench's output reaches 5.8 A, by bisection, lies within what is stated."""
    low, high = 1800.0, 3600.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if bench_output(middle) < 5.8 else (low, middle)
    two = OutputCurve(curve(*((n, bench_output(n)) for n in (1800.0, 3600.0)))).break_even(5.8, 0.05)
    four = OutputCurve(curve(*((n, bench_output(n)) for n in (1800.0, 2400.0, 3000.0, 3600.0)))).break_even(
        5.8, 0.05
    )
    assert two.speed_rpm is not None
    assert four.speed_rpm is not None
    assert abs(two.speed_rpm - low) < 2.5 * two.u_speed_rpm
    assert four.speed_rpm == pytest.approx(low, abs=60)
    assert four.u_speed_rpm < two.u_speed_rpm


def test_break_even_out_of_reach_is_said() -> None:
    points = curve((1800.0, 2.0), (3600.0, 10.0))
    assert "lowest speed that was read" in OutputCurve(points).break_even(1.0, 0.1).words
    assert "does not break even up to 3600" in OutputCurve(points).break_even(12.0, 0.1).words
    assert OutputCurve(()).break_even(5.0, 0.1).speed_rpm is None


def test_one_speed_at_which_nothing_is_gained_or_lost_is_too_close() -> None:
    found = OutputCurve(curve((1800.0, 6.1))).break_even(6.1, 0.1)
    assert found.speed_rpm is None
    assert found.words == "At 1800 rpm, the only speed that was read, whether it gains is too close to call."


def test_nothing_is_stated_far_from_what_was_read() -> None:
    found = OutputCurve(curve((1800.0, 2.0), (3600.0, 10.0)))
    assert found.at(1500.0) is None
    assert found.at(4200.0) is None
    near = found.at(3800.0)
    assert near is not None
    assert near.u_current_a > 0.2


def test_readings_of_one_speed_become_one_and_keep_their_disagreement() -> None:
    found = OutputCurve(curve((3600.0, 10.0), (3590.0, 9.0), (1800.0, 2.0)))
    assert len(found.points) == 2
    assert found.points[1].current_a == pytest.approx(9.5)
    assert found.points[1].u_current_a >= 0.5


@hypothesis_given(
    st.lists(st.tuples(st.floats(500, 6000), st.floats(0, 50)), min_size=1, max_size=6), st.floats(400, 7000)
)
def test_any_points_give_a_finite_answer_or_none(points: list[tuple[float, float]], speed: float) -> None:
    found = OutputCurve([CurvePoint(n, a, 0.1) for n, a in points]).at(speed)
    if found is not None:
        assert 0.0 <= found.current_a <= 50.0 + 1e-6
        assert 0.0 < found.u_current_a < 1e3


BATTERY = BatteryCard(nominal_voltage_v=12, capacity_ah=18, chemistry="flooded")
BAND = ChargeBand(0.5, 0.7)


def test_hours_to_full_are_a_range_from_band_and_doubt() -> None:
    found = hours_of(Measured(2.0, 0.0), BAND, BATTERY)
    assert found is not None
    assert found.what == "full"
    assert found.low_h == pytest.approx(0.3 * 18 / 0.85 / 2.0)
    assert found.high_h == pytest.approx(0.5 * 18 / 0.85 / 2.0)
    wide = hours_of(Measured(2.0, 0.5), BAND, BATTERY)
    assert wide is not None
    assert wide.low_h < found.low_h
    assert found.high_h is not None
    assert wide.high_h is not None
    assert wide.high_h > found.high_h


def test_hours_to_flat_name_the_form_of_peukerts_law() -> None:
    found = hours_of(Measured(-5.0, 0.0), BAND, BATTERY)
    assert found is not None
    assert found.what == "flat"
    full_h = 20.0 * (18.0 / (20.0 * 5.0)) ** 1.2
    assert found.low_h == pytest.approx(0.5 * full_h)
    assert found.high_h == pytest.approx(0.7 * full_h)
    assert "rated hours" in found.method
    assert "n = 1.2" in found.method


def test_hours_to_flat_go_by_the_batterys_own_rated_hours() -> None:
    """18 Ah over 10 h: t = 10 · (18 / (10 · 5))^1.2, by hand 2.935 h."""
    found = hours_of(
        Measured(-5.0, 0.0),
        ChargeBand(1.0, 1.0),
        BatteryCard(nominal_voltage_v=12, capacity_ah=18, chemistry="flooded", rated_hours=10.0),
    )
    assert found is not None
    assert found.low_h == pytest.approx(2.935, abs=0.001)


def test_hours_that_may_never_end_or_can_not_be_known() -> None:
    found = hours_of(Measured(0.4, 0.22), BAND, BATTERY)  # surely a gain, but perhaps of next to nothing
    assert found is not None
    assert found.high_h is None
    assert "at the earliest" in found.words
    assert hours_of(Measured(2.0, 0.1), None, BATTERY) is None
    assert hours_of(Measured(2.0, 0.1), BAND, BatteryCard()) is None


def test_between_two_speeds_the_doubt_is_that_of_the_shape() -> None:
    """Straight line and I² = a - b/n² at 2700 rpm, by hand."""
    at = OutputCurve(curve((1800.0, 2.0), (3600.0, 10.0), u=0.0)).at(2700.0)
    assert at is not None
    straight = 6.0
    b = (10.0**2 - 2.0**2) / (1 / 1800.0**2 - 1 / 3600.0**2)
    held_back = (10.0**2 + b / 3600.0**2 - b / 2700.0**2) ** 0.5
    assert at.current_a == pytest.approx(0.5 * (straight + held_back))
    assert at.u_current_a == pytest.approx(0.5 * (held_back - straight) / 3**0.5)


def test_between_three_speeds_the_doubt_is_that_of_the_readings() -> None:
    at = OutputCurve(curve((1800.0, 2.0), (2600.0, 6.0), (3600.0, 10.0), u=0.2)).at(3100.0)
    assert at is not None
    assert at.current_a == pytest.approx(8.0)
    assert at.u_current_a == pytest.approx(0.2 / 2**0.5)


def test_a_little_beyond_the_readings_the_doubt_grows_with_the_distance() -> None:
    at = OutputCurve(curve((1800.0, 2.0), (3600.0, 10.0), u=0.0)).at(3900.0)
    assert at is not None
    assert at.u_current_a == pytest.approx(0.5 * 10.0 * 300.0 / 3900.0)


def test_break_even_doubt_is_the_amps_doubt_over_the_slope() -> None:
    """1 A for each 100 rpm around the crossing: 0.5 A of doubt is 50 rpm."""
    points = curve((1800.0, 0.0), (2300.0, 5.0), (2800.0, 10.0), u=0.3)
    found = OutputCurve(points).break_even(7.5, 0.4)
    assert found.speed_rpm == pytest.approx(2550, abs=10)
    at = OutputCurve(points).at(found.speed_rpm or 0.0)
    assert at is not None
    assert found.u_speed_rpm == pytest.approx(100.0 * (0.4**2 + at.u_current_a**2) ** 0.5, rel=0.05)


def test_amps_at_the_rectifier_stand_in_where_the_batterys_were_not_read() -> None:
    readings = [
        observed("output_current", 10.0, 0.05, speed_rpm=3600.0),
        observed("current_idle", -4.0, 0.05, speed_rpm=1800.0),
        observed("load_current", 6.0, 0.02),
    ]
    budget = charge_budget(given(*readings))
    assert budget is not None
    assert budget.all_on_at_work is not None
    assert budget.at_idle is not None
    assert budget.all_on_at_work.value == pytest.approx(4.0)
    # there the loads' doubt counts: a tenth of 6 A, rectangular
    assert budget.all_on_at_work.u == pytest.approx((0.05**2 + 0.02**2 + 0.6**2 / 3) ** 0.5)
    assert budget.at_idle.value == pytest.approx(-4.0 + 2.0)


def test_idle_and_work_doubts_add_up_over_the_day() -> None:
    always = tuple(replace(load, share=1.0) for load in CART.load)
    budget = measured(3.0, -2.0, u=0.2, changes={"load": always})
    assert budget.over_the_day is not None
    assert budget.over_the_day.value == pytest.approx(0.3 * -2.0 + 0.7 * 3.0)
    assert budget.over_the_day.u == pytest.approx(0.2)


def test_idling_is_named_only_where_there_is_any() -> None:
    budget = measured(3.0, -2.0, changes={"duty": DutyCard(idle_share=0.0)})
    assert "idling" not in budget_sentence(budget)
    assert budget.over_the_day == budget.at_work


def test_a_full_battery_makes_the_output_a_least_one() -> None:
    full = charge_budget(given(observed("current_work", 3.0, speed_rpm=3600.0), voltage_work=14.2))
    low = charge_budget(given(observed("current_work", 3.0, speed_rpm=3600.0), voltage_work=12.9))
    assert full is not None
    assert low is not None
    assert full.at_least_only
    assert not low.at_least_only


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"battery": None}, "When the battery is full or flat can't be told: the card has no battery."),
        (
            {"battery": BatteryCard(nominal_voltage_v=12)},
            "When the battery is full or flat can't be told: the card has no capacity of the battery.",
        ),
        ({"idle_speed_rpm": None}, "The card has no idle speed, so the whole day can't be told."),
        ({"duty": None}, "The card has no duty: the answer is for work alone."),
    ],
)
def test_what_the_card_lacks_is_said(changes: dict[str, Any], said: str) -> None:
    assert said in measured(3.0, -2.0, changes=changes).notes


def test_a_battery_that_was_not_read_at_rest_is_said() -> None:
    budget = charge_budget(given(observed("current_work", 3.0, 0.1, speed_rpm=3600.0), load_current=6.0))
    assert budget is not None
    # Without idle the day can't be told either; both are said.
    assert any("at idle was not read" in note for note in budget.notes)
    assert any("its volts at rest were not read" in note for note in budget.notes)


def test_amps_that_may_be_none_are_neither_gained_nor_lost() -> None:
    said = budget_sentence(measured(3.0, -2.0))  # two of the pump's four amps are drawn on the average
    assert "at idle it neither gains nor loses, within the reading" in said
    assert "At work speed it gains" in said


def test_a_battery_that_loses_is_told_so_though_nothing_is_known_of_its_loads() -> None:
    """Without loads there is nothing to add; the amps are the battery's own, and they are negative."""
    card = replace(CART, load=(), duty=None)
    budget = charge_budget(given(observed("current_work", -1.34, 0.01, speed_rpm=3600.0), machine=card))
    assert budget is not None
    assert budget.at_work is not None
    assert budget.at_work.value == pytest.approx(-1.34)
    assert budget.carries == "no"
    assert budget_sentence(budget) == "At work speed it loses 1.34 ± 0.02 A."
