"""Repairs without a reading between them: any number costs what a few cost, and changes nothing."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest

import daq.job.status as status_module
from daq.job.file.state import JobState
from daq.job.job import Job
from daq.job.sheet.steps import load_sheet
from daq.job.status import StepStatus, job_status
from daq.model.clock import ManualClock
from tests.daq.job.whole_job import start_job

_TYPED = (
    ("loads", "load_current", "6.1 A"),
    ("ac_output", "output", "15.0 3600"),
    ("ac_output", "output", "27.6 3600"),
    ("wiggle", "wiggle_count", "3"),
)


def judged_one_by_one(state: JobState) -> dict[int, tuple[StepStatus, ...]]:
    """Each round by itself, after the one before it."""
    rounds: dict[int, tuple[StepStatus, ...]] = {}
    for number in range(1, state.round + 1):
        _, rounds[number] = status_module._judge_round(state, load_sheet(), number, rounds.get(number - 1))
    return rounds


@pytest.mark.parametrize("seed", range(8))
def test_rounds_that_say_nothing_end_as_if_each_were_judged(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    job = start_job(tmp_path)
    for _ in range(3):
        for step, slot, text in rng.sample(_TYPED, rng.randrange(1, 4)):
            job.type_reading(step, slot, text)
        if rng.random() < 0.5:
            job.skip(rng.choice(("wiggle", "loads", "ac_output", "charging")), "out of reach")
        for _ in range(rng.randrange(1, 7)):
            job.repaired("joint soldered")
    found = job.status()
    expected = judged_one_by_one(found.state)
    assert found.steps == expected[found.state.round]
    assert found.before == expected[1]
    assert found.state.round > 3


def test_thousands_of_repairs_are_judged_no_oftener_than_a_few(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Judged at each of them, it took seconds for a file of some megabytes."""
    job = start_job(tmp_path)
    job.type_reading("ac_output", "output", "15.0 3600")
    job.repaired("joint soldered")
    with job.path.open("ab") as file:
        file.write(b'{"entry":"repair","utc":"2026-03-18T10:00:00Z","text":"again"}\n' * 5000)
    state = Job.open(job.path, ManualClock()).status().state
    judged: list[int] = []
    plain: Callable[..., object] = status_module._judge_round

    def count(state: JobState, sheet: object, number: int, earlier: object) -> object:
        judged.append(number)
        return plain(state, sheet, number, earlier)

    monkeypatch.setattr(status_module, "_judge_round", count)
    found = job_status(state, load_sheet())
    assert len(judged) < 10
    assert judged[-1] == state.round == 5002
    assert {each.round for each in found.steps if each.open} == {5002}
