"""A sheet typed in by hand, judged as a job judges it."""

from __future__ import annotations

from pathlib import Path

from daq.cards.machine import MachineCard
from daq.job.evidence.typed import typed_observation
from daq.job.file.entries import JobEntry
from daq.job.file.state import JobState, KeptReading, RoundState
from daq.job.judging.verdicts import Line
from daq.job.sheet.steps import load_sheet
from daq.job.status import JobStatus, job_status
from tests.daq.job.builders import slot_of

__all__ = ["SOUND", "line_of", "typed_status"]

_UTC = "2026-03-02T09:00:00Z"

SOUND = {
    "rest_voltage": "12.61",
    "load_current": "6.20",
    "loaded_voltage": "12.25",
    "governed_speed": "3600",
    "voltage_idle": "12.90",
    "voltage_work": "14.20",
    "current_idle": "-1.0",
    "current_work": "4.10",
    "output": "27.6 3600; 27.5 3590; 27.7 3610",
    "lead_resistance": "0.100",
    "winding_resistance": "0.350",
    "winding_temperature": "20",
    "wiggle_count": "0",
    "ground_resistance": "OL",
    "output_current": "10.3",
    "ripple_voltage": "0.20",
    "terminal_voltage": "12.6",
    "drop_voltage": "0.15",
}
"""A sound sprayer cart, its battery not full."""


def typed_status(card: MachineCard, **texts: str) -> JobStatus:
    """Where a job with these typed readings stands; ``SOUND`` is taken first."""
    kept = RoundState()
    for number, (name, text) in enumerate({**SOUND, **texts}.items(), start=2):
        observed = typed_observation(text, slot_of(name), card, None)
        kept.readings[name] = KeptReading(number, _UTC, "", None, text, observed)
    head = JobEntry(program="spinvolt", started_utc=_UTC)
    return job_status(JobState(Path("job.jsonl"), head, card, [kept], [], [], []), load_sheet())


def line_of(status: JobStatus, step: str, title: str) -> Line:
    """A step's line by how its title begins."""
    judgement = status.step(step).judgement
    assert judgement is not None, step
    return next(line for line in judgement.lines if line.title.startswith(title))
