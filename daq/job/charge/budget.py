"""Can it carry its loads? The charge budget, with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from daq.job.charge.drawn import NOT_LISTED, Drawn, drawn_by_loads
from daq.job.charge.drop import what_to_drop
from daq.job.charge.hours import Hours, hours_of
from daq.job.charge.output_curve import BreakEven, OutputCurve
from daq.job.evidence.observed import CurvePoint
from daq.job.judging.battery_rest import band_of
from daq.job.judging.given import Given, Measured
from daq.job.judging.held_back import holds_back, may_hold_back
from daq.job.judging.verdicts import CONFIDENCE, at_least, call

__all__ = ["Carries", "ChargeBudget", "charge_budget", "output_points"]

Carries = Literal["yes", "no", "too_close", "not_known"]


@dataclass(frozen=True)
class ChargeBudget:
    """Amps into the battery; negative where it loses."""

    drawn: Drawn
    at_work: Measured | None
    """At work speed, loads on for their shares of the time."""
    at_idle: Measured | None
    all_on_at_work: Measured | None
    over_the_day: Measured | None
    """Idle and work by the duty's shares; at work alone where no duty is known."""
    idle_share: float | None
    carries: Carries
    chance: float | None
    """Probability that it gains over the day."""
    break_even: BreakEven | None
    hours: Hours | None
    drop: str
    """Which load to drop; "" where none need be, or where it can't be told."""
    at_least_only: bool
    """The regulator held back while the output was read: it could have given more."""
    notes: tuple[str, ...]


def charge_budget(given: Given) -> ChargeBudget | None:
    """Work out the budget; None where neither the output nor any load is known."""
    drawn = drawn_by_loads(given)
    known = drawn is not None
    drawn = drawn or NOT_LISTED
    curve = OutputCurve(output_points(given, drawn.all_on))
    if not known and not curve.points:
        return None
    machine = given.machine
    work = curve.at(_work_speed(given))
    idle = curve.at(machine.idle_speed_rpm) if machine.idle_speed_rpm is not None else None
    at_work, at_idle = _net(work, drawn), _net(idle, drawn)
    share = machine.duty.idle_share if machine.duty is not None else None
    day = _over_the_day(at_work, at_idle, share)
    chance = None if day is None else at_least(day.value, day.u, 0.0)
    carries: Carries = "not_known"
    if chance is not None:
        verdicts: dict[str, Carries] = {"pass": "yes", "fail": "no"}
        carries = verdicts.get(call(chance), "too_close")
    full = _held_back(given, share)
    if full and carries == "no":
        carries = "not_known"  # what was held back could make up for what is lost
    hours = None
    if day is not None and not (full and carries != "yes"):
        hours = hours_of(day, band_of(given), machine.battery)
    return ChargeBudget(
        drawn=drawn,
        at_work=at_work,
        at_idle=at_idle,
        all_on_at_work=None
        if work is None
        else Measured(work.current_a - drawn.all_on.value, work.u_current_a),
        over_the_day=day,
        idle_share=share,
        carries=carries,
        chance=chance,
        break_even=_break_even(curve, drawn, full=full),
        hours=hours,
        drop=""
        if day is None or drawn is None or full or carries in {"yes", "not_known"}
        else what_to_drop(day, drawn),
        at_least_only=full,
        notes=(
            *_notes(given, drawn, share, at_idle, full=full),
            *_without_hours(given, day, hours, full=full),
        ),
    )


def output_points(given: Given, all_on_a: Measured) -> tuple[CurvePoint, ...]:
    """Amps of the alternator at each speed that was read.

    Amps into the battery with all loads on are what the question is about, so
    they come first: the loads are added to them and taken off again, and their doubt
    falls out. Amps out of the regulator-rectifier stand in at speeds where
    those were not read, and there the loads' doubt counts.
    """
    points: list[CurvePoint] = []
    for slot in ("current_work", "current_idle"):
        # One recording may stand for both: its points are the same ones then, and no second look.
        points += [each for each in _points_of(slot, given, all_on_a.value, 0.0) if each not in points]
    u_loads = (all_on_a.u**2 + (0.1 * all_on_a.value) ** 2 / 3.0) ** 0.5
    speeds = [point.speed_rpm for point in points]
    for point in _points_of("output_current", given, 0.0, u_loads):
        if all(abs(point.speed_rpm - speed) > 0.05 * speed for speed in speeds):
            points.append(point)
    return tuple(points)


def _points_of(slot: str, given: Given, add_a: float, u_add_a: float) -> list[CurvePoint]:
    observed = given.observed(slot)
    if observed is None:
        return []
    found = list(observed.curve)
    if not found and observed.value is not None:
        speed = observed.speed_rpm or _speed_of(slot, given)
        if speed is not None:
            found = [CurvePoint(speed, observed.value, observed.u, observed.u_limit)]
    # No alternator gives less than nothing; but where the loads aren't known these are the battery's amps alone.
    least_a = 0.0 if add_a > 0.0 else -math.inf
    return [
        CurvePoint(
            point.speed_rpm,
            max(least_a, point.current_a + add_a),
            (point.u_current_a**2 + u_add_a**2) ** 0.5,
            (point.u_limit_a**2 + u_add_a**2) ** 0.5,
        )
        for point in found
    ]


def _speed_of(slot: str, given: Given) -> float | None:
    if slot == "current_idle":
        return given.machine.idle_speed_rpm
    governed = given.value("governed_speed")
    return governed.value if governed is not None else given.machine.rated_speed_rpm


def _work_speed(given: Given) -> float:
    """The card's, or that which the engine reaches where it does not get there."""
    wanted, reached = given.machine.work_speed_rpm, given.value("governed_speed")
    return reached.value if reached is not None and reached.value < 0.97 * wanted else wanted


def _net(point: CurvePoint | None, drawn: Drawn) -> Measured | None:
    if point is None:
        return None
    return Measured(point.current_a - drawn.mean.value, (point.u_current_a**2 + drawn.u_spared**2) ** 0.5)


def _over_the_day(work: Measured | None, idle: Measured | None, share: float | None) -> Measured | None:
    if work is None:
        return None
    if not share:
        return work
    if idle is None:
        return None
    # Both rest on the same loads: their doubts add up rather than average out.
    value = share * idle.value + (1.0 - share) * work.value
    return Measured(value, share * idle.u + (1.0 - share) * work.u)


def _held_back(given: Given, idle_share: float | None) -> bool:
    """Whether the regulator may have held back at a speed that counts for the day."""
    share = idle_share or 0.0
    at_work, at_idle = may_hold_back(given), may_hold_back(given, "voltage_idle")
    return (at_work and share < 1.0) or (at_idle and share > 0.0)


def _surely_held(given: Given) -> bool:
    return max(holds_back(given), holds_back(given, "voltage_idle")) >= CONFIDENCE


def _break_even(curve: OutputCurve, drawn: Drawn, *, full: bool) -> BreakEven:
    """The speed at which it breaks even; what was held back could only lower it."""
    found = curve.break_even(drawn.mean.value, drawn.u_spared)
    if not full or found.words.startswith("It gains already"):
        return found
    if found.speed_rpm is None:
        return replace(
            found, words="The speed at which it breaks even is not known: the regulator held back."
        )
    return replace(found, words=f"{found.words.split(' rpm')[0]} rpm or below: the regulator held back.")


def _without_hours(given: Given, day: Measured | None, hours: Hours | None, *, full: bool) -> tuple[str, ...]:
    """Why it isn't told when the battery is full or flat; () where it is."""
    battery = given.machine.battery
    lacking = []
    if battery is None:
        lacking.append("the card has no battery")
    elif battery.capacity_ah is None:
        lacking.append("the card has no capacity of the battery")
    if given.value("rest_voltage") is None:
        lacking.append("its volts at rest were not read")
    if day is not None and hours is None and not lacking:
        lacking.append(
            "what it could give was held back" if full else "whether it gains or loses is too close to call"
        )
    if hours is not None or not lacking:
        return ()
    return (f"When the battery is full or flat can't be told: {' and '.join(lacking)}.",)


def _notes(
    given: Given, drawn: Drawn, share: float | None, at_idle: Measured | None, *, full: bool
) -> tuple[str, ...]:
    notes = []
    if drawn is NOT_LISTED:
        notes.append(
            "What the loads draw is neither measured nor on the card: it is as it was with what was on."
        )
    elif not drawn.measured:
        notes.append("The loads' amps are the card's, taken as good to a tenth; measure them to be sure.")
    if share is None:
        notes.append("The card has no duty: the answer is for work alone.")
    elif share > 0.0 and given.machine.idle_speed_rpm is None:
        notes.append("The card has no idle speed, so the whole day can't be told.")
    elif share > 0.0 and at_idle is None:
        notes.append("The output at idle was not read, so the whole day can't be told.")
    if _work_speed(given) < given.machine.work_speed_rpm:
        notes.append(f"Work speed is taken as the {_work_speed(given):.0f} rpm that the engine reaches.")
    if full:
        notes.append(
            f"The regulator {'was' if _surely_held(given) else 'may have been'} holding back while the output was read "
            "(the battery was nearly full): it can give at least that much."
        )
    return tuple(notes)
