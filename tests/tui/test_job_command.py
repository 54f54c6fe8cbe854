"""``spinvolt job``: a job from the command line, typed and from recordings."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.daq.job.conftest import DoneJobs, done_jobs
from tests.tui.program import Ran, spinvolt, spinvolt_here

__all__ = ["done_jobs"]


class Line:
    """The command line in one folder."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self._capsys = folder, capsys

    def __call__(self, *arguments: str) -> Ran:
        return spinvolt_here("job", *arguments, folder=self.folder, capsys=self._capsys)


@pytest.fixture
def line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Line:
    return Line(tmp_path, capsys)


def test_a_job_typed_from_start_to_report(line: Line) -> None:
    ran = line("start", "cart.jsonl", "--machine", "nursery-sprayer")
    assert ran.status == 0
    assert "BATTERY AT REST (battery_rest)" in ran.out
    assert "! A battery on charge gives off hydrogen" in ran.out
    assert "Turn the dial to DC volts." in ran.out
    ran = line("next", "cart.jsonl", "12.61", "V")
    assert "Battery at rest: pass" in ran.out
    assert "WHAT THE LOADS DRAW" in ran.out
    ran = line("next", "cart.jsonl", "load_current=6.10", "loaded_voltage=12.35")
    assert "CHARGING" in ran.out
    ran = line(
        "next",
        "cart.jsonl",
        "governed_speed=3590",
        "voltage_work=12.20",
        "current_work=-2.80",
        "current_idle=-5.60",
    )
    assert "the battery loses with the loads on" in ran.out
    assert "AC OUTPUT" in ran.out
    ran = line("next", "cart.jsonl", "16.6", "3600")
    assert "AC output, unloaded, at rated test speed: FAIL" in ran.out
    assert "WINDING RESISTANCE" in ran.out
    ran = line(
        "next", "cart.jsonl", "winding_resistance=0.28", "lead_resistance=0.02", "winding_temperature=20"
    )
    assert line("next", "cart.jsonl", "--step", "wiggle", "--skip", "plug out of reach").status == 0
    ran = line("status", "cart.jsonl")
    assert "FAIL              AC output" in ran.out
    assert "Fault: weak magnets" in ran.out
    ran = line("report", "cart.jsonl")
    assert ran.out.startswith("It does not carry its loads; likeliest fault: weak magnets.")
    assert "Wiggle test: skipped: plug out of reach" in ran.out
    table = json.loads(line("report", "cart.jsonl", "--json").out)
    assert table["answer"]["fault"] == "weak_magnets"


def test_recordings_as_readings(line: Line, done_jobs: DoneJobs) -> None:
    for path in done_jobs["shorted_turns"].job.path.parent.glob("*.jsonl"):
        if path.name != "job.jsonl":
            shutil.copy(path, line.folder / path.name)
    names = {
        path.name.partition("-")[2].removesuffix(".jsonl"): path.name for path in line.folder.glob("*.jsonl")
    }
    line("start", "cart.jsonl", "--machine", "nursery-sprayer")
    ran = line("next", "cart.jsonl", names["stator-ac_voltage"], "--step", "ac_output")
    assert "AC output, unloaded, at rated test speed: FAIL" in ran.out
    ran = line("next", "cart.jsonl", names["shorted-resistance"], "--step", "winding_resistance")
    assert ran.status == 2
    assert "could be lead_resistance or winding_resistance" in ran.err
    ran = line(
        "next", "cart.jsonl", f"lead_resistance={names['shorted-resistance']}", "--step", "winding_resistance"
    )
    assert "still to be read: winding_resistance" in ran.out


def test_readings_that_can_not_be_true_are_kept_and_said(line: Line) -> None:
    line("start", "cart.jsonl", "--machine", "nursery-sprayer")
    ran = line("next", "cart.jsonl", "40")
    assert ran.status == 0
    assert "at a 12 V battery can't be true" in ran.out
    assert '"typed":"40"' in (line.folder / "cart.jsonl").read_text()


def test_what_was_not_judged_is_asked_again_and_the_correction_taken(line: Line) -> None:
    line("start", "cart.jsonl", "--machine", "nursery-sprayer")
    ran = line("next", "cart.jsonl", "12,61 A")
    assert "Typed in A, but dc voltage is asked for" in ran.out
    assert "Battery volts at rest can't be judged as read: read again." in ran.out
    assert "BATTERY AT REST (battery_rest)" in ran.out
    assert "rest_voltage: battery volts at rest" in ran.out
    ran = line("next", "cart.jsonl", "12,61")
    assert "Battery at rest: pass" in ran.out
    assert "WHAT THE LOADS DRAW" in ran.out


def test_an_instrument_that_does_not_read_it_is_refused(line: Line) -> None:
    line("start", "cart.jsonl", "--machine", "nursery-sprayer")
    ran = line("next", "cart.jsonl", "12.61", "--with", "bench-ohms")
    assert ran.status == 2
    assert "bench-ohms reads resistance, not dc voltage" in ran.err
    assert "12.61" not in (line.folder / "cart.jsonl").read_text()
    assert (
        line(
            "next",
            "cart.jsonl",
            "--step",
            "winding_resistance",
            "lead_resistance=0.02",
            "winding_temperature=20",
            "--with",
            "bench-ohms",
        ).status
        == 0
    )


def test_a_repair_begins_a_new_round(line: Line) -> None:
    line("start", "cart.jsonl", "--machine", "nursery-sprayer")
    line("next", "cart.jsonl", "--step", "ac_output", "output=16.6 3600")
    ran = line("next", "cart.jsonl", "--repaired", "new flywheel", "--note", "keyway was worn")
    assert ran.status == 0
    ran = line("next", "cart.jsonl", "--step", "ac_output", "output=27.6 3600")
    assert "unloaded, at rated test speed: pass" in ran.out
    ran = line("report", "cart.jsonl")
    assert "Repaired: new flywheel" in ran.out
    assert "significant" in ran.out
    assert "keyway was worn" in ran.out


@pytest.mark.parametrize(
    ("arguments", "status", "sentence"),
    [
        (["start", "x.jsonl"], 2, "The following arguments are required: --machine"),
        (["start", "x.jsonl", "--machine", "no-such"], 1, "There is no machine card 'no-such'"),
        (["start", "cart.jsonl", "--machine", "nursery-sprayer"], 1, "cart.jsonl exists already"),
        (
            ["next", "gone.jsonl"],
            1,
            "There is no job file gone.jsonl; `spinvolt job start gone.jsonl` begins one.",
        ),
        (["next", "cart.jsonl", "--step", "gremlins"], 2, "There is no test 'gremlins'"),
        (["next", "cart.jsonl", "lots"], 2, "'lots' is no reading"),
        (["next", "cart.jsonl", "--step", "loads", "6.1"], 2, "Say which reading '6.1' is"),
        (["next", "cart.jsonl", "rest_voltage=gone.jsonl"], 1, "There is no recording gone.jsonl"),
        (["next", "cart.jsonl", "--skip", " "], 2, "with a reason only"),
        (["next", "cart.jsonl", "12.6", "--with", "no-such-card"], 1, "no-such-card"),
        (["status", "other.txt"], 1, "is no job file"),
        (["sing", "cart.jsonl"], 2, "invalid choice: 'sing'"),
    ],
)
def test_what_goes_wrong_is_one_sentence(
    arguments: list[str], status: int, sentence: str, line: Line
) -> None:
    line("start", "cart.jsonl", "--machine", "nursery-sprayer")
    (line.folder / "other.txt").write_text("hello\n")
    ran = line(*arguments)
    assert (ran.status, ran.err.count("\n")) == (status, 1)
    assert sentence in ran.err
    assert "Traceback" not in ran.err


def test_no_escape_sequence_from_a_job_file_reaches_the_screen(line: Line) -> None:
    line("start", "cart.jsonl", "--machine", "nursery-sprayer")
    path = line.folder / "cart.jsonl"
    path.write_text(path.read_text().replace("Sprayer cart", "Sprayer \\u001b[31mcart\\u001b]0;x\\u0007"))
    line("next", "cart.jsonl", "--note", "a \x1b[2J note")
    for action in ("status", "report"):
        assert "\x1b" not in line(action, "cart.jsonl").out


def test_it_is_the_same_as_a_process(tmp_path: Path) -> None:
    assert spinvolt("job", "start", "cart.jsonl", "--machine", "nursery-sprayer", folder=tmp_path).status == 0
    ran = spinvolt("job", "next", "cart.jsonl", "current_work=-2.8", "--step", "charging", folder=tmp_path)
    assert ran.status == 0
    assert "the battery loses" in ran.out


def test_recordings_of_a_job_are_compared_and_told_by_a_machine_card_that_is_named(
    line: Line, done_jobs: DoneJobs, capsys: pytest.CaptureFixture[str]
) -> None:
    done = done_jobs["shorted_turns"]
    (run,) = done.bench.folder.glob("*-stator-ac_voltage.jsonl")
    shutil.copy(run, line.folder / "run.jsonl")
    for command in (["result", "run.jsonl"], ["compare", "run.jsonl", "run.jsonl"]):
        ran = spinvolt_here(*command, folder=line.folder, capsys=capsys)
        assert "No rated test speed is known" in ran.out
        ran = spinvolt_here(*command, "--machine", "nursery-sprayer", folder=line.folder, capsys=capsys)
        assert ran.status == 0
        assert "no change to state" not in ran.out
        assert "fail" in ran.out.lower()
    ran = spinvolt_here(
        "compare", "run.jsonl", "run.jsonl", "--machine", "no-such", folder=line.folder, capsys=capsys
    )
    assert ran.status == 1
    assert "There is no machine card 'no-such'" in ran.err
