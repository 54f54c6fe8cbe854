"""Which readings of a recording count for a slot: by the speed that was held, and up to an engine stop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.cards.machine import MachineCard
from daq.job.evidence.series import Series
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.sheet.steps import Slot
from daq.job.streams.ending import fell_at_end_rpm, find_stop_at_end
from daq.job.streams.steady import STOPPED_RPM, Plateau, plateau_nearest, plateaus
from daq.job.streams.stopping import EngineStop, find_stop
from daq.model.quantity import Quantity

__all__ = ["CutRun", "after_stop", "choose", "cut_run"]

Floats = NDArray[np.float64]

_SETTLE_S = 1.0
"""From the start of a held speed until a meter's window lies wholly within it."""
_ENOUGH = 0.9
"""Share of a slot's seconds that must have been held before the engine stopped."""
_RUNS_SHARE = 0.7
"""Of the idle speed: slower than that no engine runs by itself."""
_SLOWEST_IDLE_SHARE = 0.35
"""Of rated speed, where the card does not give the idle speed (common practice, no source)."""
_FULL_SHARE = 0.95
"""Of the speed before a stop: from the last reading above it the engine runs down."""


@dataclass(frozen=True)
class CutRun:
    """A recording, cut to a step."""

    series: Series
    speed: tuple[Floats, Floats] | None
    held: tuple[Plateau, ...]
    stop: EngineStop | None

    @property
    def ran_s(self) -> float:
        """How long the engine ran, by its speed, until it ran down or the recording ended."""
        if self.speed is None:
            return 0.0
        running = self.speed[0][self.speed[1] > STOPPED_RPM]
        return min(float(running[-1]), self.run_down_s) - float(running[0]) if len(running) else 0.0

    @property
    def run_down_s(self) -> float:
        """From when on the engine only ran down to its stop; infinite where it did not stop."""
        if self.speed is None or self.stop is None:
            return float("inf")
        time_s, speed_rpm = self.speed
        full = time_s[(speed_rpm >= _FULL_SHARE * self.stop.speed_before_rpm) & (time_s <= self.stop.at_s)]
        return float(full[-1]) if len(full) else self.stop.at_s


def cut_run(series: Series, speed: tuple[Floats, Floats] | None, slot: Slot, machine: MachineCard) -> CutRun:
    """Find the held speeds of a recording and, where the engine should run, whether it stopped."""
    if speed is None or len(speed[0]) == 0:
        return CutRun(series, None, (), None)
    held = plateaus(*speed, machine.rated_speed_rpm)
    if slot.engine == "stopped":
        return CutRun(series, speed, held, None)
    if slot.quantity is Quantity.ROTATIONAL_SPEED:
        return CutRun(series, speed, held, None)
    return CutRun(series, speed, held, _stop(series, speed, slot, machine))


def _stop(
    series: Series, speed: tuple[Floats, Floats], slot: Slot, machine: MachineCard
) -> EngineStop | None:
    time_s, value = series.good
    # These do not fall to nothing with the engine, but to what stands there without it.
    to_nothing = slot.place not in {"battery", "battery_current", "tach"}
    from_there = value
    if len(time_s) and not to_nothing:
        from_there = value - float(np.median(value[time_s >= time_s[-1] - 1.5]))
    end_s = float(max(speed[0][-1], series.time_s[-1] if len(series.time_s) else 0.0))
    found = find_stop(*speed, time_s, from_there, signal_end_s=end_s)
    if found is not None:
        return found
    idle_rpm = machine.idle_speed_rpm or _SLOWEST_IDLE_SHARE * machine.rated_speed_rpm
    return find_stop_at_end(
        *speed, time_s, value, least_running_rpm=_RUNS_SHARE * idle_rpm, to_nothing=to_nothing
    )


def choose(
    cut: CutRun, slot: Slot, machine: MachineCard
) -> tuple[Series, float | None, tuple[Trouble, ...], tuple[str, ...]]:
    """The readings that count for a slot, the speed they were taken at, and what is to be said."""
    if cut.speed is None:
        notes = () if slot.engine == "stopped" else ("The speed was not recorded with it.",)
        return cut.series, None, (), notes
    if slot.engine == "stopped":
        return _standing(cut, slot)
    if slot.kind == "run":
        return cut.series, None, (), ()
    target = machine.rated_speed_rpm
    if slot.engine == "idle":
        target = machine.idle_speed_rpm or 0.5 * machine.rated_speed_rpm
    plateau = plateau_nearest(cut.held, target)
    if plateau is None or (slot.engine == "idle" and plateau.speed_rpm > 0.8 * machine.rated_speed_rpm):
        words = "at idle" if slot.engine == "idle" else "at test speed"
        text = f"The engine held no speed {words} in this recording. Kept, not judged."
        return cut.series, None, (Trouble(TroubleKind.WRONG_ENGINE_STATE, text),), ()
    settled = min(_SETTLE_S, 0.5 * plateau.length_s)
    return cut.series.within(plateau.from_s + settled, plateau.to_s + 0.3), plateau.speed_rpm, (), ()


def _standing(cut: CutRun, slot: Slot) -> tuple[Series, float | None, tuple[Trouble, ...], tuple[str, ...]]:
    assumed = cut.speed
    turning = assumed is not None and float(np.median(assumed[1])) > STOPPED_RPM
    if not turning:
        return cut.series, 0.0, (), ()
    text = f"The engine was running while {slot.title} was recorded; it has to stand. Kept, not judged."
    return cut.series, None, (Trouble(TroubleKind.WRONG_ENGINE_STATE, text),), ()


def after_stop(
    cut: CutRun, slot: Slot, machine: MachineCard, troubles: tuple[Trouble, ...], notes: tuple[str, ...]
) -> tuple[tuple[Trouble, ...], tuple[str, ...]]:
    """A stop after the test was done is told; one before that cuts the step short."""
    if cut.stop is None:
        return troubles, (*notes, *_perhaps_stopping(cut, slot))
    target = machine.rated_speed_rpm if slot.engine == "test_speed" else machine.idle_speed_rpm
    held = plateau_nearest(cut.held, target or cut.stop.speed_before_rpm)
    length = held.length_s if held is not None else 0.0
    # A run is asked for at its full length: what the speed and the volts do together counts, not a mean.
    done = cut.ran_s >= slot.seconds if slot.kind == "run" else length >= _ENOUGH * min(slot.seconds, 10.0)
    if done:
        text = f"The engine stopped at {cut.stop.at_s:.0f} s, after this was read."
        return troubles, (*notes, text)
    others = tuple(each for each in troubles if each.kind is not TroubleKind.WRONG_ENGINE_STATE)
    return (*others, Trouble(TroubleKind.CUT_SHORT, _stop_words(cut.stop))), notes


def _stop_words(stop: EngineStop) -> str:
    text = f"The engine stopped by itself at {stop.at_s:.0f} s, from {stop.speed_before_rpm:.0f} rpm"
    if stop.at_end:
        return (
            f"{text}, just before the recording ended: speed and readings were both falling away. The step is kept "
            "as cut short."
        )
    return f"{text}: speed and readings both fell to nothing. The step is kept as cut short."


def _perhaps_stopping(cut: CutRun, slot: Slot) -> tuple[str, ...]:
    """In the last second a stop and a throttle that is let go look alike."""
    last_rpm = None if cut.speed is None or slot.engine == "stopped" else fell_at_end_rpm(*cut.speed)
    if last_rpm is None:
        return ()
    return (
        f"The speed was falling when the recording ended, at {last_rpm:.0f} rpm: the throttle was let go, or the "
        "engine was stopping. If it stopped, this test is done again once it runs.",
    )
