"""Machines that the rules were not made on: other alternators, batteries, loads, weather and instruments.

Each comes with a machine card as its service manual would have it: the values of a sound one of its kind with the
usual margins, never those of the very machine on the bench, and nothing of its fault.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from daq.cards.machine import MachineCard
from daq.cards.machine_parts import AlternatorClass, BatteryCard, DutyCard, LoadCard
from drivers.bench.build import Build
from drivers.bench.kinds import build_of, kind_named
from drivers.bench.model import Bench, BenchSetup

__all__ = ["OtherMachine", "machine_of_kind", "other_machine"]

_SOUND_CHARGE = 0.5


@dataclass(frozen=True)
class OtherMachine:
    """A build, what its manual says, and how full its battery is."""

    build: Build
    card: MachineCard
    charge: float


def other_machine(seed: int) -> OtherMachine:
    """A machine by its number: an alternator of 4 to 14 A, at -5 to 38 °C, with a new or an older battery."""
    random = Random(f"{seed} other machine")
    size = random.choice([0.4, 0.6, 1.0, 1.4])
    volts = random.uniform(24.0, 34.0)
    loads = {
        name: size * amps * random.uniform(0.7, 1.1) for name, amps in _LOADS[random.randrange(3)].items()
    }
    build = Build(
        rated_v=volts,
        pole_pairs=random.choice([5, 6, 8, 9]),
        resistance_ohm=0.25 / size * random.uniform(0.8, 1.2),
        inductance_h=0.0048 / size * (volts / 28.0),
        wiring_ohm=random.uniform(0.01, 0.035) / max(1.0, size),
        regulator_set_v=random.uniform(14.0, 14.6),
        capacity_ah=max(12.0, 18.0 * size),
        battery_ohm=0.03 / max(0.7, size) * random.uniform(0.8, 2.0),
        loads_a=loads,
        temperature_c=random.uniform(-5.0, 38.0),
        meter_noise_counts=random.choice([0.5, 1.0, 2.0]),
        meter_lead_ohm=random.uniform(0.02, 0.2),
    )
    # A given reactance at the test speed, whatever the number of poles.
    build = _with_inductance(build, build.inductance_h / build.pole_pairs)
    return OtherMachine(build, _card(build, size), random.uniform(0.45, 0.85))


_LOADS = (
    {"controller": 0.4, "spray pump": 3.6, "work lamp": 2.2},
    {"lamps": 4.5, "clutch": 1.2},
    {"solenoid": 0.8, "hour meter": 0.1, "winch relay": 2.0, "lamp": 2.5},
)


def machine_of_kind(kind: str, seed: int) -> OtherMachine:
    """A machine whose alternator is of another kind, by its number: DC only, split circuits, or AC only."""
    random = Random(f"{seed} {kind}")
    base = build_of(kind)
    size = random.uniform(0.85, 1.15)
    build = replace(
        base,
        rated_v=base.rated_v * random.uniform(0.95, 1.15),
        pole_pairs=random.choice([5, 6, 8]),
        resistance_ohm=base.resistance_ohm / size,
        wiring_ohm=random.uniform(0.01, 0.04),
        battery_ohm=0.03 * random.uniform(0.8, 1.5),
        loads_a={name: amps * random.uniform(0.7, 1.1) for name, amps in base.loads_a.items()},
        temperature_c=random.uniform(0.0, 35.0),
        meter_noise_counts=random.choice([0.5, 1.0]),
        meter_lead_ohm=random.uniform(0.02, 0.15),
    )
    # A given reactance at the test speed, whatever the number of poles.
    build = _with_inductance(build, base.inductance_h / size * base.pole_pairs / build.pole_pairs)
    return OtherMachine(build, _card_of_kind(kind, build), random.uniform(0.5, 0.8))


def _card_of_kind(kind: str, build: Build) -> MachineCard:
    """The manual's values of such a machine; what nobody states for the kind stays open."""
    charges, ohm = kind_named(kind).charges, build.resistance_ohm
    amps = _sound_amps(build) if charges else 0.0
    return MachineCard(
        name=kind,
        title=f"An invented machine, {kind}",
        rated_speed_rpm=3600,
        minimum_ac_voltage_v=round(0.75 * build.rated_v),
        alternator=AlternatorClass(kind),
        idle_speed_rpm=1800,
        charging_voltage_v=(13.3, 14.9) if kind_named(kind).regulator else None,
        charging_current_a=(round(0.8 * amps, 1), round(1.25 * amps, 1)) if charges else None,
        winding_resistance_ohm=(round(0.93 * ohm, 3), round(1.08 * ohm, 3)),
        battery=BatteryCard(nominal_voltage_v=12, capacity_ah=18, chemistry="flooded") if charges else None,
        load=tuple(LoadCard(name=name, current_a=round(a, 2)) for name, a in build.loads_a.items()),
        duty=DutyCard(idle_share=0.3) if charges else None,
    )


def _with_inductance(build: Build, inductance_h: float) -> Build:
    return replace(build, inductance_h=inductance_h)


def _card(build: Build, size: float) -> MachineCard:
    """The manual's values: of a sound machine of the kind at 20 °C, rounded, with margins of a fifth and a tenth."""
    amps = _sound_amps(build)
    return MachineCard(
        name="other",
        title="Another invented machine",
        rated_speed_rpm=3600,
        minimum_ac_voltage_v=round(0.75 * build.rated_v),
        alternator=AlternatorClass.REGULATED,
        idle_speed_rpm=1800,
        charging_voltage_v=(13.3, 14.9),
        charging_current_a=(round(0.8 * amps, 1), round(1.25 * amps, 1)),
        winding_resistance_ohm=(
            round(0.93 * build.resistance_ohm, 3),
            round(1.08 * build.resistance_ohm, 3),
        ),
        battery=BatteryCard(nominal_voltage_v=12, capacity_ah=round(build.capacity_ah), chemistry="flooded"),
        load=tuple(LoadCard(name=name, current_a=round(a, 1)) for name, a in build.loads_a.items()),
        duty=DutyCard(idle_share=0.3),
    )


def _sound_amps(build: Build) -> float:
    """What a sound machine of this kind gives at its test speed into a battery at 13 V: the maker would know."""
    bench = Bench(BenchSetup(build=replace(build, temperature_c=20.0), state_of_charge=_SOUND_CHARGE))
    return bench.machine.charging.full_output(3600.0, 13.0).mean_a
