"""The sample jobs in recordings/jobs: they tell what their page says, and come from the script beside them."""

from __future__ import annotations

import importlib.util
import re
import sys
from pathlib import Path
from types import ModuleType

import pytest

from daq.job.job import Job
from daq.job.status import JobStatus
from daq.job.summary_answer import answer_of
from daq.model.clock import ManualClock
from daq.recording.reader import read_recording
from daq.run.recorded import open_recording

RECORDINGS = Path(__file__).parents[3] / "recordings"
JOBS = RECORDINGS / "jobs"


def status_of(name: str) -> JobStatus:
    return Job.open(JOBS / name / "job.jsonl", ManualClock()).status()


def make_jobs(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_jobs", RECORDINGS / "make_jobs.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, spec.name, module)  # dataclasses look their module up there
    monkeypatch.setattr(sys, "path", [*sys.path])
    spec.loader.exec_module(module)
    return module


def test_the_joint_was_found_remade_and_proven() -> None:
    status = status_of("intermittent-joint")
    assert status.troubles == ()
    first = {each.step.name: each.state for each in status.before}
    assert (first["ac_output"], first["wiggle"]) == ("fail", "fail")
    assert status.state.repairs[0].text.startswith("Both pins")
    assert answer_of(status).headline == "The repair is proven; it carries its loads; no fault was found."


def test_the_loads_exceed_the_output_and_which_to_drop_is_said() -> None:
    status = status_of("too-many-loads")
    assert status.troubles == ()
    assert status.diagnosis.leading is not None
    assert status.diagnosis.leading.name == "overloaded"
    assert status.budget is not None
    assert status.budget.carries == "no"
    assert status.budget.drop.startswith("Without the loads that are not on the card (")
    assert status.step("wiggle").reason.startswith("plug is out of reach")


def test_each_has_its_report_and_they_are_small() -> None:
    for name in ("intermittent-joint", "too-many-loads"):
        page = (JOBS / name / "report.html").read_text("utf-8")
        assert answer_of(status_of(name)).headline.split(";")[0] in page
    assert sum(path.stat().st_size for path in JOBS.rglob("*")) < 1_500_000


def said(path: Path) -> str:
    """What a file says: of a page its words, of a job file its lines with numbers to five digits, else all of it.

    Drawings, digests and last digits may differ by the computer; recordings come from the bench alone and may not.
    """
    text = path.read_text("utf-8")
    if path.suffix == ".html":
        text = re.sub(r"<svg.*?</svg>|<style.*?</style>|'sha256-[^']*'", "", text, flags=re.DOTALL)
    if path.suffix == ".html" or path.name == "job.jsonl":
        text = re.sub(r"-?\d+\.\d{6,}(e-?\d+)?", lambda number: f"{float(number[0]):.5g}", text)
        text = re.sub(r"sha256:\s*[0-9a-f]{64}|[0-9a-f]{64}", "", text)
    return text


def test_the_script_makes_every_file_that_is_there_pages_and_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is shipped is what the program says today; else: ``python recordings/make_jobs.py``."""
    make_jobs(monkeypatch).make(tmp_path)
    made = {str(path.relative_to(tmp_path)): said(path) for path in tmp_path.rglob("*") if path.is_file()}
    there = {str(path.relative_to(JOBS)): said(path) for path in JOBS.rglob("*") if path.is_file()}
    assert sorted(made) == sorted(there)
    assert [name for name in made if made[name] != there[name]] == []


def test_each_recording_says_which_machine_it_is_of() -> None:
    """So `result` and `compare` need no --machine."""
    for name in ("intermittent-joint", "too-many-loads"):
        machine = Job.open(JOBS / name / "job.jsonl", ManualClock()).machine
        for path in sorted((JOBS / name).glob("[0-9]*.jsonl")):
            assert read_recording(path).machine == machine, path.name
    before, after = (
        open_recording(JOBS / "intermittent-joint" / f"{n}-stator-ac_voltage.jsonl") for n in ("06", "18")
    )
    assert before.result().verdict == "not_enough_data"
    assert after.result().verdict == "pass"
