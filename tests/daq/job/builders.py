"""Readings and findings made by hand: only what a test cares about is given."""

from __future__ import annotations

from daq.cards.machine import MachineCard
from daq.cards.machine_parts import AlternatorClass, BatteryCard, DutyCard, LoadCard
from daq.job.evidence.observed import CurvePoint, Observed, RatedFound
from daq.job.judging.given import Given
from daq.job.judging.verdicts import Finding
from daq.job.sheet.steps import Slot, Step, load_sheet

__all__ = ["CART", "finding", "given", "observed", "rated", "slot_of", "step_of"]

CART = MachineCard(
    name="cart",
    title="An invented cart",
    rated_speed_rpm=3600,
    minimum_ac_voltage_v=20.0,
    alternator=AlternatorClass.REGULATED,
    idle_speed_rpm=1800,
    charging_voltage_v=(13.5, 14.8),
    charging_current_a=(9.0, 13.0),
    winding_resistance_ohm=(0.235, 0.27),
    battery=BatteryCard(nominal_voltage_v=12, capacity_ah=18, chemistry="flooded"),
    load=(LoadCard(name="pump", current_a=4.0, share=0.5), LoadCard(name="lamp", current_a=2.0)),
    duty=DutyCard(idle_share=0.3),
)


def slot_of(name: str) -> Slot:
    step = load_sheet().step_of_slot(name)
    assert step is not None, name
    slot = step.slot_named(name)
    assert slot is not None
    return slot


def step_of(name: str) -> Step:
    step = load_sheet().step_named(name)
    assert step is not None, name
    return step


def observed(slot: str, value: float | None, u: float = 0.01, **changes: object) -> Observed:
    """A reading of a slot; None is over range."""
    fields: dict[str, object] = {
        "slot": slot,
        "quantity": slot_of(slot).quantity,
        "value": value,
        "overload": value is None,
        "scatter_u": u,
        **changes,
    }
    return Observed(**fields)  # type: ignore[arg-type]  # a builder takes any field


def rated(volts: float | None, u: float = 0.1, **changes: object) -> Observed:
    """The reading of the AC output."""
    fields: dict[str, object] = {
        "rated_speed_rpm": 3600.0,
        "rated_voltage_v": volts,
        "u_rated_voltage_v": u,
        **changes,
    }
    found = RatedFound(**fields)  # type: ignore[arg-type]  # a builder takes any field
    return observed("output", volts, u, overload=False, rated=found)


def given(*readings: Observed, machine: MachineCard = CART, **values: float | None) -> Given:
    """Readings by slot, the usual ones by value alone."""
    every = [*readings, *(observed(slot, value) for slot, value in values.items())]
    return Given(machine, {each.slot: each for each in every})


def finding(name: str, strength: float = 1.0) -> Finding:
    return Finding(name, strength, f"{name.replace('_', ' ')} was found")


def curve(*points: tuple[float, float], u: float = 0.05) -> tuple[CurvePoint, ...]:
    return tuple(CurvePoint(speed, current, u) for speed, current in points)
