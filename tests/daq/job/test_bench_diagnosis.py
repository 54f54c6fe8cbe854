"""The whole sheet on every fault of the virtual bench: named first, healthy named nothing.

The bench is our own: this shows that tests and rules fit together, not that they are right. The long form, 200
machines, is ``python -m tests.benchmarks.confusion_table``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from daq.job.summary_answer import answer_of
from drivers.bench.faults import FAULTS
from tests.benchmarks.confusion_table import NONE, named_on_another_machine, right_name, table_lines
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.conftest import DoneJobs
from tests.daq.job.whole_job import do_step, start_job

FAULTY = [name for name in FAULTS if name != "healthy"]


@pytest.mark.parametrize("fault", FAULTY)
def test_the_fault_is_named_first_with_its_reasons(fault: str, done_jobs: DoneJobs) -> None:
    diagnosis = done_jobs[fault].status.diagnosis
    leading = diagnosis.leading
    assert leading is not None
    assert leading.name == right_name(fault)
    assert leading.supports
    assert all(reason.endswith(".") for reason in leading.supports)
    assert diagnosis.rivals(1.0) == ()


def test_a_healthy_machine_has_no_fault_named_and_passes(done_jobs: DoneJobs) -> None:
    status = done_jobs["healthy"].status
    assert status.diagnosis.leading is None
    assert {each.state for each in status.steps} == {"pass", "does_not_apply"}
    assert status.troubles == ()
    answer = answer_of(status)
    assert answer.headline == "It carries its loads; no fault was found."
    assert answer.complete


def test_the_confusion_table(done_jobs: DoneJobs, record_property: Callable[[str, object], None]) -> None:
    counts: Counter[tuple[str, str]] = Counter()
    for fault in FAULTS:
        leading = done_jobs[fault].status.diagnosis.leading
        counts[(fault, NONE if leading is None else leading.name)] += 1
    lines = table_lines(counts)
    record_property("table", "\n".join(["which fault is named for which: the nursery's cart", *lines]))
    assert lines[-1] == f"named rightly: {len(FAULTS)} of {len(FAULTS)}"


@pytest.mark.timeout(300)  # thirteen whole jobs
def test_the_confusion_table_of_machines_that_the_rules_were_not_made_on(
    record_property: Callable[[str, object], None],
) -> None:
    """Another machine for each fault: another alternator, battery, weather and instrument, with its own card."""
    counts = Counter(
        (fault, named_on_another_machine(fault, 300 + number)) for number, fault in enumerate(FAULTS)
    )
    lines = table_lines(counts)
    record_property("table", "\n".join(["which fault is named for which: other machines", *lines]))
    assert lines[-1] == f"named rightly: {len(FAULTS)} of {len(FAULTS)}"


def test_the_sheet_sees_nothing_of_the_benchs_truth(tmp_path: Path) -> None:
    """The same readings under another name of fault give the same diagnosis."""
    bench = BenchJob(tmp_path, "weak_magnets", 11)
    bench.bench.machine.condition = replace(bench.bench.machine.condition, name="healthy")
    job = start_job(tmp_path)
    do_step("ac_output", job, bench)
    assert "weak_magnets" not in job.path.read_text()
    assert "weak" not in "".join(path.read_text() for path in tmp_path.glob("[0-9]*.jsonl"))
    assert job.status().step("ac_output").state == "fail"


def test_good_ac_and_no_charge_clears_the_alternator(done_jobs: DoneJobs) -> None:
    status = done_jobs["dead_regulator"].status
    assert status.step("ac_output").state == "pass"
    assert status.step("charging").state == "fail"
    leading = status.diagnosis.leading
    assert leading is not None
    assert any("the alternator is cleared" in reason for reason in leading.supports)
    blamed = {each.name for each in status.diagnosis.faults if each.named}
    assert not blamed & {"open_winding", "shorted_turns", "weak_magnets", "grounded_stator"}


def test_a_grounded_winding_is_found_though_its_ac_volts_are_good(done_jobs: DoneJobs) -> None:
    status = done_jobs["grounded_stator"].status
    assert status.step("ac_output").state == "pass"
    assert status.step("winding_to_ground").state == "fail"


def test_a_slow_engine_is_not_the_alternators_fault(done_jobs: DoneJobs) -> None:
    status = done_jobs["low_governed_speed"].status
    assert status.step("ac_output").state == "pass"
    sentences = " ".join(line.sentence for line in status.step("charging").judgement.lines)  # type: ignore[union-attr]  # judged: it has readings
    assert "before the alternator is blamed" in sentences


@pytest.mark.parametrize(
    ("fault", "carries"),
    [
        ("healthy", "yes"),
        ("open_winding", "no"),
        ("weak_magnets", "no"),
        ("shorted_turns", "no"),
        ("dead_regulator", "no"),
        ("open_diode", "no"),
        ("overloaded", "no"),
    ],
)
def test_can_it_carry_its_loads(fault: str, carries: str, done_jobs: DoneJobs) -> None:
    budget = done_jobs[fault].status.budget
    assert budget is not None
    assert budget.carries == carries


def test_the_load_that_does_not_belong_is_the_one_to_drop(done_jobs: DoneJobs) -> None:
    budget = done_jobs["overloaded"].status.budget
    assert budget is not None
    assert budget.drop.startswith("Without the loads that are not on the card (")
    dead = done_jobs["dead_regulator"].status.budget
    assert dead is not None
    assert dead.drop.startswith("Even without all its loads")
