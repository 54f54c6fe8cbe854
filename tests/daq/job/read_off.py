"""The whole sheet with its readings read off the bench and typed in, as a person without a cable does it.

The bench's circuit is stepped, but its engine does not hunt and its meter does not average: what stands at the leads
is shown with the meter's own error, its noise and its digits, and goes through the same reading of typed text,
judging and diagnosis as everything that is typed. That takes some hundredths of a second, where a sheet of whole
recordings takes seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from random import Random
from statistics import median

from daq.cards.machine import MachineCard
from daq.job.evidence.typed import typed_observation
from daq.job.file.entries import JobEntry
from daq.job.file.state import JobState, KeptReading, RoundState
from daq.job.sheet.steps import load_sheet
from daq.job.status import JobStatus, job_status
from drivers.bench.build import Build
from drivers.bench.leads import value_at
from drivers.bench.meter import FUNCTIONS
from drivers.bench.model import Bench, BenchSetup
from drivers.bench.script import IDLE_RPM, TEST_SPEED_RPM
from drivers.builtin_cards import builtin_cards
from tests.daq.job.bench_job import CARD

__all__ = ["read_off"]

_STEP_S = 0.02
_DROOP_RPM_A_W = 0.15
_LOOKS = 9
_UTC = "2026-03-02T09:00:00Z"

Reading = tuple[str, str]
"""A slot and what is typed for it."""


def read_off(
    card: MachineCard,
    fault: str,
    seed: int,
    charge: float,
    build: Build | None = None,
    *,
    run_before_s: float = 0.0,
) -> JobStatus:
    """Do the sheet on one machine.

    Args:
        card: what its manual says.
        fault: what is wrong with it.
        seed: which machine of its kind, and which meter.
        charge: of the battery, 0 to 1.
        build: its kind; None: the nursery's cart.
        run_before_s: how long it runs at test speed before its charging is read; a full battery takes hardly
            anything by then.
    """
    sheet, kept = load_sheet(), RoundState()
    reader = _Reader(card, fault, seed, charge, build or Build(), run_before_s)
    for number, (name, text) in enumerate(reader.sheet(), start=2):
        step = sheet.step_of_slot(name)
        slot = step.slot_named(name) if step is not None else None
        assert step is not None
        assert slot is not None
        if not sheet.applies(step, card):
            continue
        cards = builtin_cards(CARD[slot.quantity]) if slot.quantity in CARD else (None,)
        observed = typed_observation(text, slot, card, cards[0])
        kept.readings[name] = KeptReading(number, _UTC, "", None, text, observed)
    head = JobEntry(program="spinvolt", started_utc=_UTC)
    return job_status(JobState(Path("job.jsonl"), head, card, [kept], [], [], []), sheet)


class _Reader:
    """One machine, one meter, one person."""

    def __init__(
        self, card: MachineCard, fault: str, seed: int, charge: float, build: Build, run_before_s: float
    ) -> None:
        setup = BenchSetup(fault=fault, script="stopped", seed=seed, state_of_charge=charge, build=build)
        self.card, self.bench, self.random = card, Bench(setup), Random(f"{seed} eye")
        self.machine, self.build, self.run_before_s = self.bench.machine, build, run_before_s

    def sheet(self) -> Iterator[Reading]:
        """Every reading, in the sheet's order."""
        yield from self._standing()
        yield from self._charging()
        self._stand_at(0.0)
        self._until_closed()
        if math.isfinite(self._at("stator", "RES")):
            yield "wiggle_count", str(self._wiggled())
        yield from self._winding()
        yield from self._working()

    def _standing(self) -> Iterator[Reading]:
        charging = self.machine.charging
        names, temperature = list(charging.loads.amps), f"{self.build.temperature_c:.0f} C"
        charging.loads.switch([])
        self._pass(0.0, 1.0)
        yield "rest_voltage", self._shown("battery", "VOLT")
        yield "battery_temperature", temperature
        yield "winding_temperature", temperature
        yield "fuse_resistance", self._shown("fuse", "RES")
        yield "terminal_voltage", self._shown("output_terminal", "VOLT")
        charging.loads.switch(names)
        self._pass(0.0, 3.0)
        yield "load_current", self._shown("load_current", "CURR")
        yield "loaded_voltage", self._shown("battery", "VOLT")

    def _charging(self) -> Iterator[Reading]:
        self._pass(self._top_rpm() if self.run_before_s else 0.0, self.run_before_s)
        volts, amps, _ = self._mean_over(IDLE_RPM)
        yield "voltage_idle", volts
        yield "current_idle", amps
        volts, amps, speed = self._mean_over(self._top_rpm())
        yield "governed_speed", speed
        yield "voltage_work", volts
        yield "current_work", amps

    def _winding(self) -> Iterator[Reading]:
        self._stand_at(0.0)
        yield "lead_resistance", self._shown("shorted", "RES")
        yield "winding_resistance", self._shown("stator", "RES")
        yield "ground_resistance", self._shown("stator_to_ground", "RES")
        pairs = []
        for share in (0.6, 0.8, 1.0, 1.0):
            self._stand_at(share * self._top_rpm())
            # Whoever reads two displays waits until they stand still.
            self._until_closed()
            pairs.append(f"{self._shown('stator', 'VOLT:AC')} {self.machine.engine.speed_rpm:.0f}")
        yield "output", "; ".join(pairs)

    def _working(self) -> Iterator[Reading]:
        self._pass(self._top_rpm(), 4.0)
        self._until_closed()
        self._pass(self.machine.engine.speed_rpm, 0.2)
        yield "output_current", self._shown("rectifier_current", "CURR")
        yield "ripple_voltage", self._shown("battery", "VOLT:AC")
        yield "plugged_in_voltage", self._shown("stator_loaded", "VOLT:AC")
        yield "plugged_in_dc_voltage", self._shown("stator_loaded", "VOLT")
        yield "drop_voltage", self._shown("wiring", "VOLT")

    def _top_rpm(self) -> float:
        """What the governor lets the engine reach, less what it gives way under the charging's load."""
        limit = self.machine.engine.limit_rpm
        return min(TEST_SPEED_RPM, limit) - _DROOP_RPM_A_W * self.machine.charging.electrical_w

    def _stand_at(self, speed_rpm: float) -> None:
        self.machine.engine.speed_rpm = speed_rpm

    def _until_closed(self) -> None:
        while not self.machine.joint.closed:
            self.machine.joint.step(_STEP_S, 0.0)

    def _pass(self, speed_rpm: float, seconds: float) -> None:
        """Let time pass at a held speed, everything plugged in."""
        self._stand_at(speed_rpm)
        self.bench.put_leads("battery")
        for _ in range(round(seconds / _STEP_S)):
            self._step(speed_rpm)

    def _step(self, speed_rpm: float) -> None:
        machine = self.machine
        machine.joint.step(_STEP_S, 1.0 if speed_rpm > 0.0 else 0.0)
        machine.charging.step(_STEP_S, speed_rpm, machine.winding_closed)

    def _mean_over(self, speed_rpm: float) -> tuple[str, str, str]:
        """Volts and amps as a slow display has them, over four seconds; and the speed."""
        self._pass(speed_rpm, 4.0)
        volts, amps = 0.0, 0.0
        for _ in range(200):
            self._step(speed_rpm)
            volts += self._at("battery", "VOLT") / 200.0
            amps += self._at("battery_current", "CURR") / 200.0
        return self._digits(volts, "VOLT"), self._digits(amps, "CURR"), f"{speed_rpm:.0f}"

    def _wiggled(self) -> int:
        """How often the display jumps to open in a minute."""
        joint, jumps = self.machine.joint, 0
        for _ in range(round(60.0 / 0.05)):
            closed = joint.closed
            joint.step(0.05, 6.0)
            jumps += closed and not joint.closed
        self._until_closed()
        return jumps

    def _at(self, place: str, function: str) -> float:
        self.bench.put_leads(place)
        return value_at(place, function, self.machine.standing())

    def _shown(self, place: str, function: str) -> str:
        return self._digits(self._at(place, function), function)

    def _digits(self, value: float, function: str) -> str:
        """What stands on the meter's display most of the time, while one looks at it for some seconds."""
        if math.isinf(value) or value > FUNCTIONS[function].top:
            return "OL"
        count = FUNCTIONS[function].count
        noise = median(self.random.gauss(0.0, self.build.meter_noise_counts * count) for _ in range(_LOOKS))
        shown = value * (1.0 + self.bench.meter.gain_error(function)) + noise
        if FUNCTIONS[function].mean == "rms":
            shown = abs(shown)
        return f"{round(shown / count) * count:.2f}"
