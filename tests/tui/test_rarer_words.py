"""What the commands say at their rarer moments: nothing left to do, nothing to compare, a card that is broken."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from daq.catalog import instrument_card, machine_card
from daq.job.job import Job
from daq.job.plan import plan_recording
from daq.model.clock import ManualClock
from daq.model.quantity import Quantity
from daq.registry import load_registry
from tests.tui.program import Ran, spinvolt_here
from tests.tui.test_job_view import finished
from tui import jobrecord

SWEEP = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"


class Line:
    """The command line in one folder."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self._capsys = folder, capsys

    def __call__(self, *arguments: str) -> Ran:
        return spinvolt_here(*arguments, folder=self.folder, capsys=self._capsys)


@pytest.fixture
def line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Line:
    return Line(tmp_path, capsys)


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return Job.create(tmp_path / "cart.jsonl", machine_card("nursery-sprayer"), ManualClock())


@pytest.fixture
def short(line: Line) -> Path:
    """A recording that was cut off before there was enough for a result."""
    path = line.folder / "short.jsonl"
    path.write_bytes(b"".join(SWEEP.read_bytes().splitlines(keepends=True)[:12]))
    return path


def test_after_the_last_test_the_report_is_named_and_a_reading_is_refused(line: Line, job: Job) -> None:
    for each in job.status().steps:
        if each.state != "does_not_apply" and each.step.slot:
            job.skip(each.step.name, "not today")
    ran = line("job", "next", "cart.jsonl")
    assert "`spinvolt job report cart.jsonl` tells the whole job." in ran.out
    ran = line("job", "next", "cart.jsonl", "12.61")
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert ran.err.startswith("All tests are done. --step TEST does one again")


def test_before_the_repair_what_speaks_for_and_against_the_fault_is_told(line: Line, job: Job) -> None:
    leading = finished(job).status().diagnosis.leading
    assert leading is not None
    ran = line("job", "next", "cart.jsonl")
    assert 'When it is repaired: spinvolt job next cart.jsonl --repaired "what was done"' in ran.out
    assert all(f"  + {reason}" in ran.out for reason in leading.supports)
    assert f"  {leading.remedy}" in ran.out


def test_a_job_file_with_a_line_that_is_none_says_so_in_its_status(line: Line, job: Job) -> None:
    with job.path.open("a") as file:
        file.write("no line of a job\n")
    assert "Job file: " in line("job", "status", "cart.jsonl").out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("-i", "keyed@keyboard"), "Readings of a job are typed straight into `spinvolt job next`"),
        (("rest_voltage=12", "-i", "text-volts@/dev/none"), "With -i one reading is recorded"),
        (("-i", "text-volts@/dev/none"), "no instrument that was given reads that. Cards that do: "),
    ],
)
def test_what_can_not_be_recorded_is_one_sentence(
    line: Line, job: Job, arguments: tuple[str, ...], said: str
) -> None:
    ran = line("job", "next", job.path.name, *arguments)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert said in ran.err


def test_a_second_recording_of_a_reading_gets_a_number(job: Job) -> None:
    plan = plan_recording(job.status().step("battery_rest"), {Quantity.DC_VOLTAGE})
    first = jobrecord.recording_path(job.path, plan)
    first.touch()
    second = jobrecord.recording_path(job.path, plan)
    second.touch()
    assert [first.name, second.name, jobrecord.recording_path(job.path, plan).name] == [
        f"cart-battery_rest-rest_voltage{number}.jsonl" for number in ("", "-2", "-3")
    ]


def test_of_all_instruments_those_that_a_recording_needs_are_taken(job: Job) -> None:
    registry = load_registry()
    volts, tach = instrument_card("text-volts", registry), instrument_card("text-speed", registry)
    plan = plan_recording(job.status().step("ac_output"), {Quantity.AC_VOLTAGE})
    hand = [(tach, "/dev/b"), (volts, "/dev/a"), (volts, "/dev/c")]
    assert jobrecord.instruments_for(plan, hand) == [(volts, "/dev/a"), (tach, "/dev/b")]
    assert jobrecord.instruments_for(plan, hand[1:]) == [(volts, "/dev/a")]


def test_a_run_without_a_result_is_compared_in_words_and_has_no_budget(line: Line, short: Path) -> None:
    ran = line("compare", short.name, str(SWEEP))
    assert ran.status == 0
    assert "Before: no rated output, not enough data." in ran.out
    assert "After: 27.58 V" in ran.out
    assert "Change:" not in ran.out
    ran = line("result", short.name, "--budget")
    assert "Uncertainty budget: none, as no rated output can be stated." in ran.out
    assert json.loads(line("result", short.name, "--json", "--budget").out)["budget"] is None


def test_a_card_that_is_broken_is_named_and_the_others_are_listed(line: Line) -> None:
    cards = line.folder / "spinvolt_config" / "cards"
    cards.mkdir(parents=True)
    (cards / "broken.toml").write_text('name = "broken"\n')
    ran = line("cards")
    assert "text-volts" in ran.out
    assert "Left out: " in ran.err
    assert "broken.toml" in ran.err


def test_what_is_in_reach_is_told_in_words(line: Line) -> None:
    ran = line("ports", "--seconds", "0")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.strip()
