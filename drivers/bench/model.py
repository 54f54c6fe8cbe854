"""The whole bench without ports and without a clock of its own: whoever holds it says how time goes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from .build import Build
from .faults import condition_named
from .leads import LEADS, PLUGGED_IN, value_at
from .machine import STEP_S, Machine
from .meter import Meter
from .script import TEST_SPEED_RPM, script_named
from .tach import Tach

__all__ = ["Bench", "BenchSetup"]


@dataclass(frozen=True)
class BenchSetup:
    """What is on the bench."""

    fault: str = "healthy"
    script: str = "hold"
    seed: int = 1
    hunting: bool = False
    leads: str = "stator"
    state_of_charge: float = 0.7
    false_tach: float = 0.0
    """Share of the tach's lines that count every mark twice."""
    tach_gap: tuple[float, float] | None = None
    """Silence of the tach: from, and for how long, in s."""
    stop_at_s: float | None = None
    """When the engine stops by itself."""
    build: Build = Build()


class Bench:
    """Machine, meter and tach in step.

    Attributes:
        t_s: bench time, seconds since the start.
        machine: the true state.
        meter: its finished readings are in ``meter.results``.
        tach: its lines are had from ``tach.take(t_s)``.
        leads: the place the meter's leads are on.

    Raises:
        ValueError: a fault, script or place that isn't there.
    """

    def __init__(self, setup: BenchSetup | None = None) -> None:
        self.setup = setup or BenchSetup()
        self.machine = self._machine(self.setup)
        noise = self.setup.build.meter_noise_counts
        self.meter = Meter(Random(f"{self.setup.seed} meter"), STEP_S, noise_counts=noise)
        self.tach = Tach(
            Random(f"{self.setup.seed} tach"),
            STEP_S,
            false_share=self.setup.false_tach,
            gap=self.setup.tach_gap,
        )
        self.t_s = 0.0
        self._steps = 0
        self._behind_s = 0.0
        self.leads = "stator"
        self.put_leads(self.setup.leads)

    @staticmethod
    def _machine(setup: BenchSetup) -> Machine:
        return Machine(
            condition_named(setup.fault),
            script_named(setup.script),
            setup.seed,
            hunting=setup.hunting,
            state_of_charge=setup.state_of_charge,
            build=setup.build,
        )

    def step(self, dt_s: float = STEP_S) -> None:
        """Let ``dt_s`` seconds pass, in whole steps of the physics; what is left over counts next time."""
        self._behind_s += dt_s
        while self._behind_s >= STEP_S - 1e-9:
            self._behind_s -= STEP_S
            self._one_step()

    def _one_step(self) -> None:
        self._steps += 1
        self.t_s = self._steps * STEP_S
        if self.setup.stop_at_s is not None and self._steps == round(self.setup.stop_at_s / STEP_S):
            self.machine.stopped = True
        self.machine.step()
        self.meter.observe(self.t_s, value_at(self.leads, self.meter.function, self.machine.standing()))
        self.tach.observe(self.t_s, self.machine.engine.revolutions)

    def put_leads(self, place: str) -> None:
        """Move the meter's leads; the stator is unplugged or plugged in as that place needs.

        Raises:
            ValueError: naming the places there are.
        """
        if place not in LEADS:
            raise ValueError(f"There is no place {place!r} for the leads; there are: {', '.join(LEADS)}.")
        self.leads = place
        self.machine.charging.connected = place in PLUGGED_IN

    def repair(self, fault: str = "healthy") -> None:
        """Change the machine's condition; engine and battery stay as they are.

        Raises:
            ValueError: a fault that isn't there.
        """
        self.machine.take_parts_of(self._machine(replace(self.setup, fault=fault)))

    def truth(self) -> dict[str, object]:
        """What is really so, for whoever wants to check a measurement.

        ``lag_s`` is how much later the volts arrive than the speed, centre of window to centre of
        window; ``lag_end_s`` the same from end of window to end of window.
        """
        meter, tach = self.meter, self.tach
        return {
            "fault": self.machine.condition.name,
            "script": self.machine.script.name,
            "seed": self.setup.seed,
            "rated_speed_rpm": TEST_SPEED_RPM,
            "rated_voltage_V": self.machine.rated_v(),
            "volts_per_1000rpm": 1000.0 * self.machine.rated_v() / TEST_SPEED_RPM,
            "pole_pairs": self.machine.charging.winding.pole_pairs,
            "winding_ohm": self.machine.charging.winding.terminal_ohm,
            "meter_window_s": meter.window_s,
            "meter_delay_s": meter.delay_s,
            "meter_interval_s": meter.interval_s,
            "meter_gain_error": meter.gain_error("VOLT:AC"),
            "tach_window_s": tach.window_s,
            "tach_delay_s": tach.delay_s,
            "tach_scale_error": tach.scale_error,
            "lag_s": meter.delay_s + 0.5 * meter.window_s - tach.delay_s - 0.5 * tach.window_s,
            "lag_end_s": meter.delay_s - tach.delay_s,
        }
