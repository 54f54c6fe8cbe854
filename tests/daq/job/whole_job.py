"""The whole sheet, done on the virtual bench with one meter, into a job file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from daq.cards.machine import MachineCard
from daq.catalog import machine_card
from daq.job.job import Job
from daq.job.sheet.steps import load_sheet
from daq.model.clock import ManualClock
from daq.model.quantity import Quantity
from tests.daq.job.bench_job import BenchJob

__all__ = ["STEPS", "do_sheet", "do_step", "start_job"]


def start_job(folder: Path, clock: ManualClock | None = None, card: MachineCard | None = None) -> Job:
    """A job on the invented sprayer cart, or on another machine."""
    card = card or machine_card("nursery-sprayer")
    return Job.create(folder / "job.jsonl", card, clock or ManualClock())


def _battery_rest(job: Job, bench: BenchJob) -> None:
    bench.loads(on=False)
    bench.rest(40.0)
    job.attach_recording("battery_rest", bench.record(Quantity.DC_VOLTAGE, "battery", "stopped", 3.0))
    job.type_reading("battery_rest", "battery_temperature", f"{bench.build.temperature_c:.0f} C")


def _loads(job: Job, bench: BenchJob) -> None:
    bench.loads(on=True)
    path = bench.record(Quantity.DC_CURRENT, "load_current", "stopped", 3.0)
    job.attach_recording("loads", path)
    bench.loads(on=False)
    bench.rest(50.0)
    bench.loads(on=True)
    path = bench.record(Quantity.DC_VOLTAGE, "battery", "stopped", 5.0, wait_s=0.0)
    job.attach_recording("loads", path)


def _charging(job: Job, bench: BenchJob) -> None:
    job.attach_recording("charging", bench.record(Quantity.DC_VOLTAGE, "battery", "hold", 14.0))
    job.attach_recording("charging", bench.record(Quantity.DC_CURRENT, "battery_current", "hold", 14.0))


def _ac_output(job: Job, bench: BenchJob) -> None:
    job.attach_recording("ac_output", bench.record(Quantity.AC_VOLTAGE, "stator", "sweep", 32.0))


def _winding_resistance(job: Job, bench: BenchJob) -> None:
    path = bench.record(Quantity.RESISTANCE, "shorted", "stopped", 4.0)
    job.attach_recording("winding_resistance", path, ["lead_resistance"])
    path = bench.record(Quantity.RESISTANCE, "stator", "stopped", 4.0)
    job.attach_recording("winding_resistance", path, ["winding_resistance"])
    job.type_reading("winding_resistance", "winding_temperature", f"{bench.build.temperature_c:.0f}")


def _wiggle(job: Job, bench: BenchJob) -> None:
    path = bench.record(Quantity.RESISTANCE, "stator", "stopped", 61.0, wiggled=True)
    job.attach_recording("wiggle", path)


def _winding_to_ground(job: Job, bench: BenchJob) -> None:
    path = bench.record(Quantity.RESISTANCE, "stator_to_ground", "stopped", 3.0)
    job.attach_recording("winding_to_ground", path)


def _rectifier_output(job: Job, bench: BenchJob) -> None:
    path = bench.record(Quantity.DC_CURRENT, "rectifier_current", "work", 6.0)
    job.attach_recording("rectifier_output", path)
    path = bench.record(Quantity.AC_VOLTAGE, "battery", "work", 6.0)
    job.attach_recording("rectifier_output", path, ["ripple_voltage"])
    path = bench.record(Quantity.AC_VOLTAGE, "stator_loaded", "work", 6.0)
    job.attach_recording("rectifier_output", path, ["plugged_in_voltage"])
    path = bench.record(Quantity.DC_VOLTAGE, "stator_loaded", "work", 4.0)
    job.attach_recording("rectifier_output", path, ["plugged_in_dc_voltage"])


def _wiring_drop(job: Job, bench: BenchJob) -> None:
    job.attach_recording("wiring_drop", bench.record(Quantity.DC_VOLTAGE, "output_terminal", "stopped", 3.0))
    job.attach_recording("wiring_drop", bench.record(Quantity.RESISTANCE, "fuse", "stopped", 3.0))
    job.attach_recording("wiring_drop", bench.record(Quantity.DC_VOLTAGE, "wiring", "work", 6.0))


STEPS: dict[str, Callable[[Job, BenchJob], None]] = {
    "battery_rest": _battery_rest,
    "loads": _loads,
    "charging": _charging,
    "ac_output": _ac_output,
    "winding_resistance": _winding_resistance,
    "wiggle": _wiggle,
    "winding_to_ground": _winding_to_ground,
    "rectifier_output": _rectifier_output,
    "wiring_drop": _wiring_drop,
}


def do_step(name: str, job: Job, bench: BenchJob) -> None:
    """Do one test of the sheet."""
    STEPS[name](job, bench)


def do_sheet(job: Job, bench: BenchJob) -> None:
    """Do all tests that apply to the machine, in the sheet's order."""
    sheet = load_sheet()
    for name, do in STEPS.items():
        step = sheet.step_named(name)
        if step is not None and sheet.applies(step, job.machine):
            do(job, bench)
