"""``spinvolt report`` and ``spinvolt job report --to``: the page from the command line."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from daq.catalog import machine_card
from daq.job.job import Job
from daq.model.clock import SystemClock
from tests.tui.program import Ran, environment, spinvolt, spinvolt_here

OPENS_NO_TERMINAL = True

_RECORDINGS = Path(__file__).parents[2] / "recordings"
_HEALTHY, _WEAK = str(_RECORDINGS / "healthy-sweep.jsonl"), str(_RECORDINGS / "weak-magnets-hunting.jsonl")


class Line:
    """The command line in one folder, where a job lies."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self._capsys = folder, capsys
        job = Job.create(folder / "cart.jsonl", machine_card("nursery-sprayer"), SystemClock())
        job.type_reading("battery_rest", "rest_voltage", "12.61")
        job.type_reading("ac_output", "output", "16.6 3600")

    def __call__(self, *arguments: str) -> Ran:
        return spinvolt_here(*arguments, folder=self.folder, capsys=self._capsys)


@pytest.fixture
def line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Line:
    return Line(tmp_path, capsys)


def test_recordings_as_a_page(line: Line) -> None:
    ran = line("report", _WEAK, _HEALTHY, "--to", "two.html")
    assert (ran.status, ran.err) == (0, "")
    page = (line.folder / "two.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "The limit is met now; it was not before." in page
    assert ran.out.startswith("two.html: ")
    assert ran.out.endswith(" kB, to open in any browser or to print.\n")


def test_a_job_as_a_page_both_ways(line: Line) -> None:
    assert line("report", "cart.jsonl", "--to", "one.html").status == 0
    ran = line("job", "report", "cart.jsonl", "--to", "other.html")
    assert (ran.status, ran.err) == (0, "")
    one, other = ((line.folder / name).read_text("utf-8") for name in ("one.html", "other.html"))
    assert "Can it carry its loads?" in one
    made = one.index("report made ")
    assert one[:made] == other[:made]
    text = line("job", "report", "cart.jsonl")
    assert text.status == 0
    assert "AC output, unloaded, at rated test speed: FAIL" in text.out


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["report", "cart.jsonl"], 2, "--to"),
        (["report", "--to", "x.html"], 2, "FILE"),
        (["report", "gone.jsonl", "--to", "x.html"], 1, "gone.jsonl"),
        (["report", "cart.jsonl", "--to", "cart.jsonl", "--force"], 2, "the report is made from"),
        (["report", "cart.jsonl", "cart.jsonl", "--to", "x.html"], 2, "named twice"),
        (["report", "cart.jsonl", "--to", "there.html"], 1, "add --force"),
        (["report", "cart.jsonl", "--to", "nowhere/x.html"], 1, "no folder"),
        (["job", "report", _HEALTHY, "--to", "x.html"], 1, "no job file"),
        (["job", "report", "cart.jsonl", "--to", "x.html", "--json"], 2, "not allowed with"),
    ],
)
def test_what_can_not_be_is_told_in_a_sentence(
    line: Line, arguments: list[str], status: int, said: str
) -> None:
    (line.folder / "there.html").write_text("mine")
    before = {path.name: path.read_bytes() for path in line.folder.iterdir() if path.is_file()}
    ran = line(*arguments)
    assert ran.status == status
    assert said in ran.err
    assert ran.err.count("\n") == 1
    assert {path.name: path.read_bytes() for path in line.folder.iterdir() if path.is_file()} == before


def test_a_page_is_replaced_on_demand(line: Line) -> None:
    (line.folder / "there.html").write_text("mine")
    assert line("report", "cart.jsonl", "--to", "there.html", "--force").status == 0
    assert "mine" not in (line.folder / "there.html").read_text("utf-8")


def test_as_a_program_it_says_nothing_but_where_the_page_is(line: Line) -> None:
    """Also where nothing may be kept for the next time, as in a container without a home."""
    ran = spinvolt("report", "cart.jsonl", "--to", "cart.html", folder=line.folder)
    assert (ran.status, ran.err) == (0, "")
    assert (line.folder / "cart.html").stat().st_size > 10_000


def test_what_draws_is_loaded_only_when_a_page_is_made(tmp_path: Path) -> None:
    program = (
        "import sys, daq, daq.report; from tui.cli import build_parser; build_parser();"
        "print(sorted({'matplotlib', 'jinja2', 'numpy', 'pandas'} & set(sys.modules)))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        env=environment(tmp_path),
    )
    assert ran.stdout.strip() == "[]"
