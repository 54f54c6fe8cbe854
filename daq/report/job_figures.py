"""The plots of a job's tests: each recording that a test rests on, drawn once."""

from __future__ import annotations

from collections.abc import Sequence

from daq.cards.machine import MachineCard
from daq.errors import SpinvoltError
from daq.job.evidence.observed import Observed
from daq.job.file.state import KeptReading
from daq.job.job import Job
from daq.job.sheet.steps import Slot
from daq.job.status import StepStatus
from daq.job.words import amount
from daq.model.quantity import Quantity
from daq.report.content import Figure
from daq.report.figures.readings import Level, readings_over_time
from daq.report.run_test import run_figures
from daq.run.recorded import RecordedRun

__all__ = ["recorded_run", "step_figures"]

_COVERAGE = 2.0
"""Factor of the ± where a reading has none of its own."""
_ENGINE = {"stopped": "taken", "idle": "at idle", "test_speed": "at test speed"}


def step_figures(job: Job, step: StepStatus, name: str) -> tuple[Figure, ...]:
    """Draw the recordings of a step; those that are gone or changed have no plot.

    Args:
        job: the job.
        step: one of its steps.
        name: beginning of the figures' names.
    """
    kept = job.status().state.rounds[step.round - 1].readings
    by_file: dict[str, list[tuple[Slot, Observed]]] = {}
    for observed in step.observed:
        slot, reading = step.step.slot_named(observed.slot), kept.get(observed.slot)
        if slot is not None and reading is not None and reading.recording is not None:
            by_file.setdefault(reading.recording.path, []).append((slot, observed))
    figures: list[Figure] = []
    for number, slots in enumerate(by_file.values(), start=1):
        run = recorded_run(job, kept[slots[0][0].name])
        if run is not None:
            figures += _figures(run, slots, job.machine, f"{name}-{number}")
    return tuple(figures)


def recorded_run(job: Job, reading: KeptReading | None) -> RecordedRun | None:
    """The recording of a reading, if it is there and is as it was read."""
    if reading is None or reading.recording is None:
        return None
    name = reading.recording.path
    try:
        if job.shelf.digest(name) != reading.recording.digest:
            return None
        return job.shelf.run(job.shelf.path_of(name), job.machine)
    except (OSError, SpinvoltError):
        return None  # the list of recordings tells it


def _figures(
    run: RecordedRun, slots: Sequence[tuple[Slot, Observed]], machine: MachineCard, name: str
) -> tuple[Figure, ...]:
    found = next((observed.rated for slot, observed in slots if slot.kind == "run"), None)
    if found is not None:
        return run_figures(run, name, found.coverage_factor or _COVERAGE)
    levels = [level for slot, observed in slots for level in _levels(slot, observed, machine)]
    title = _title([slot for slot, _ in slots])
    running = any(slot.engine != "stopped" for slot, _ in slots)
    drawn = readings_over_time(run.data, name, title, levels, speed=running)
    return (drawn,) if drawn is not None else ()


def _title(slots: Sequence[Slot]) -> str:
    shown = [slot for slot in slots if slot.quantity is not Quantity.ROTATIONAL_SPEED] or list(slots)
    title = shown[0].title
    if len(shown) > 1:
        title = title.partition(" at ")[0].partition(" (")[0]
    return title[:1].upper() + title[1:]


def _levels(slot: Slot, observed: Observed, machine: MachineCard) -> list[Level]:
    """The value that was taken, and the limit it is held against where that is one of the same kind."""
    quantity = slot.quantity
    if quantity is None or observed.value is None or slot.kind == "watch":
        return []
    found = [
        Level(
            quantity,
            observed.value,
            f"{_ENGINE[slot.engine]}:\n{amount(observed.value, observed.u, slot.unit)}",
            limit=False,
        )
    ]
    if slot.name == "voltage_work" and machine.charging_voltage_v is not None:
        most = machine.charging_voltage_v[1]
        found.append(Level(quantity, most, f"limit: at\nmost {most:g} V", limit=True))
    if slot.name == "current_work":
        found.append(Level(quantity, 0.0, "limit:\nabove 0 A", limit=True))
    return found
