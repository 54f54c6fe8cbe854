"""The command line as a process: exit statuses, sentences, and no traceback."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.tui.program import Ran, spinvolt, spinvolt_here

FIELDS = [
    "rated_speed_rpm",
    "rated_voltage_V",
    "standard_uncertainty_V",
    "expanded_uncertainty_V",
    "coverage_factor",
    "coverage_probability",
    "effective_degrees_of_freedom",
    "lag_s",
    "lag_u_s",
    "volts_per_1000rpm",
    "offset_V",
    "offset_u_V",
    "pole_pairs",
    "minimum_V",
    "conformance_probability",
    "verdict",
    "rows",
    "rows_rejected",
    "reasons",
]


@pytest.mark.parametrize(
    ("arguments", "status", "sentence"),
    [
        ([], 2, "A command is missing"),
        (["sing"], 2, "invalid choice: 'sing'"),
        (["result"], 2, "The following arguments are required: FILE"),
        (["run"], 2, "The following arguments are required: -i"),
        (["run", "-i", "scpi-meter"], 2, "'scpi-meter' names no instrument: it must be CARD@ADDRESS"),
        (["demo", "--seconds", "-3"], 2, "'-3' is no number of seconds above 0"),
        (["demo", "--fault", "gremlins"], 2, "invalid choice: 'gremlins'"),
        (["replay", "x.jsonl", "--rate", "fast"], 2, "'fast' is no rate from 0 up"),
        (["result", "missing.jsonl"], 1, "missing.jsonl"),
        (["result", "empty.jsonl"], 1, "empty.jsonl"),
        (["result", "other.jsonl"], 1, "other.jsonl"),
        (["watch", "missing.jsonl"], 1, "missing.jsonl"),
        (["replay", "missing.jsonl"], 1, "missing.jsonl"),
        (["compare", "missing.jsonl", "missing.jsonl"], 1, "missing.jsonl"),
        (["import", "x.jsonl", "ac_voltage"], 2, "'ac_voltage' is no QUANTITY=FILE.csv"),
        (["import", "x.jsonl", "fuel=log.csv"], 2, "the quantities are ac_voltage,"),
        (["import", "x.jsonl", "ac_voltage=missing.csv"], 1, "missing.csv"),
        (["import", "x.jsonl", "ac_voltage=log.csv#amps"], 1, "amps"),
        (["export", "other.jsonl", "--to", "x.csv"], 1, "other.jsonl"),
        (["cards", "no-such-card"], 1, "There is no card 'no-such-card'; there are: "),
        (["run", "-i", "no-such-card@/dev/null", "--out", "x.jsonl"], 1, "no-such-card"),
        (["run", "-i", "scpi-meter@/dev/no-such-port", "--out", "x.jsonl"], 1, "/dev/no-such-port"),
        (["run", "-i", "text-volts@/dev/no-port", "--machine", "none", "--out", "x.jsonl"], 1, "'none'"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else None,
)
def test_what_goes_wrong_is_told_in_a_sentence(
    arguments: list[str], status: int, sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "empty.jsonl").touch()
    (tmp_path / "other.jsonl").write_text("a diary, not a recording\n")
    (tmp_path / "log.csv").write_text("time,volts\n0,20.1\n")
    before = sorted(tmp_path.iterdir())
    ran = spinvolt_here(*arguments, folder=tmp_path, capsys=capsys)
    assert ran.status == status
    assert sentence in ran.err
    assert len(ran.err.splitlines()) == 1
    assert "Traceback" not in ran.err
    assert ran.out == ""
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [(["result"], 2, "required: FILE"), (["result", "missing.jsonl"], 1, "missing.jsonl")],
    ids=str,
)
def test_the_process_ends_with_that_status_and_sentence(
    arguments: list[str], status: int, words: str, tmp_path: Path
) -> None:
    ran = spinvolt(*arguments, folder=tmp_path)
    assert ran.status == status
    assert words in ran.err
    assert len(ran.err.splitlines()) == 1


def test_help_lists_every_command(tmp_path: Path) -> None:
    ran = spinvolt("--help", folder=tmp_path)
    assert ran.status == 0
    for command in (
        "demo",
        "bench",
        "run",
        "watch",
        "replay",
        "import",
        "export",
        "result",
        "compare",
        "cards",
    ):
        assert f"\n    {command} " in ran.out


def test_version(tmp_path: Path) -> None:
    assert spinvolt("--version", folder=tmp_path).out.startswith("spinvolt ")


def test_help_imports_nothing_heavy(tmp_path: Path) -> None:
    code = (
        "import sys, tui.__main__ as m\n"
        "try: m.main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'pandas', 'scipy', 'textual', 'rich', 'serial', 'bleak', 'msgspec', 'platformdirs'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "HEAVY []" in ran.stdout


def test_the_demo_tells_its_run_and_its_result(demo: Ran, recording: Path) -> None:
    assert demo.err == ""
    assert "rpm" in demo.out
    assert "Verdict: PASS. The rated output meets its limit." in demo.out
    assert demo.out.rstrip().endswith("Recording: run.jsonl")
    lines = recording.read_text().splitlines()
    assert json.loads(lines[0])["source"] == "demo"
    assert json.loads(lines[-1])["entry"] == "close"


def told_result(output: str) -> str:
    """From the verdict on, without the place of the recording."""
    return output[output.index("Verdict:") :].partition("Recording:")[0]


def test_result_tells_what_the_live_run_told(demo: Ran, recording: Path) -> None:
    ran = spinvolt("result", "run.jsonl", folder=recording.parent)
    assert ran.status == 0
    assert ran.out == told_result(demo.out)


@pytest.mark.parametrize("rate", ["0", "20"])
def test_a_replay_gives_the_same_result_digit_for_digit(demo: Ran, recording: Path, rate: str) -> None:
    ran = spinvolt("replay", "run.jsonl", "--rate", rate, "--headless", folder=recording.parent)
    assert ran.status == 0
    assert told_result(ran.out) == told_result(demo.out)


def test_watching_a_closed_run_tells_its_result(
    demo: Ran, recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = spinvolt_here("watch", "run.jsonl", folder=recording.parent, capsys=capsys)
    assert ran.status == 0
    assert told_result(ran.out) == told_result(demo.out)


def test_watching_a_run_that_was_never_closed_ends(
    recording: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = recording.read_text().splitlines(keepends=True)
    (tmp_path / "cut.jsonl").write_text("".join(lines[:-1]))
    ran = spinvolt_here("watch", "cut.jsonl", folder=tmp_path, capsys=capsys)
    assert ran.status == 0
    assert "Nobody writes this recording any more" in ran.out


def test_result_json_has_the_fields_in_their_order(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = spinvolt_here("result", "run.jsonl", "--json", folder=recording.parent, capsys=capsys)
    fields = json.loads(ran.out)
    assert list(fields) == FIELDS
    assert fields["verdict"] == "pass"
    assert fields["rated_speed_rpm"] == 3600


def test_result_budget_adds_up(recording: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = spinvolt_here("result", "run.jsonl", "--json", "--budget", folder=recording.parent, capsys=capsys)
    fields = json.loads(ran.out)
    parts = [part["output_uncertainty_V"] for part in fields["budget"]]
    assert sum(u * u for u in parts) ** 0.5 == pytest.approx(fields["standard_uncertainty_V"])
    words = spinvolt_here("result", "run.jsonl", "--budget", folder=recording.parent, capsys=capsys).out
    assert "Uncertainty budget (JCGM 100)" in words
    head, *rows = [
        line.split("  ") for line in words.splitlines() if line.startswith(("  contrib", "  accuracy"))
    ]
    assert [cell.strip() for cell in head if cell.strip()] == [
        "contribution",
        "u of the input",
        "distribution",
        "sensitivity",
        "u, V",
        "share",
        "degrees of freedom",
    ]
    tach = next(row for row in rows if "accuracy of the tach" in row)
    assert any(cell.strip().endswith(" rpm") for cell in tach)
    assert any(cell.strip().endswith(" V/rpm") for cell in tach)
    assert tach[-1].strip() == "infinite"
    assert "combined" in words


def test_a_run_compared_with_itself_has_not_changed(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = spinvolt_here("compare", "run.jsonl", "run.jsonl", folder=recording.parent, capsys=capsys)
    assert ran.status == 0
    assert re.match(r"Change: 0(\.0+)? V ", ran.out)
    assert "not significant" in ran.out
    fields = json.loads(
        spinvolt_here(
            "compare", "run.jsonl", "run.jsonl", "--json", folder=recording.parent, capsys=capsys
        ).out
    )
    assert (fields["change_V"], fields["significant"]) == (0.0, False)


def test_export_writes_rows_and_their_description(
    recording: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "rows.csv"
    ran = spinvolt_here("export", str(recording), "--to", str(out), folder=tmp_path, capsys=capsys)
    assert ran.status == 0
    header, *rows = out.read_text().splitlines()
    assert header.startswith(
        "time_s,utc,speed_rpm,voltage_V,rated_voltage_V,u_rated_voltage_V,steady,in_window,"
    )
    assert ran.out.startswith(f"{len(rows)} rows in ")
    assert (tmp_path / "rows.csv-metadata.json").exists()
    again = spinvolt_here("export", str(recording), "--to", str(out), folder=tmp_path, capsys=capsys)
    assert again.status == 1
    assert "--force" in again.err
    assert (
        spinvolt_here(
            "export", str(recording), "--to", str(out), "--force", folder=tmp_path, capsys=capsys
        ).status
        == 0
    )


def test_imported_logs_give_a_result(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seconds = [0.5 * k for k in range(60)]
    speeds = [3500 + 10 * k % 190 for k in range(60)]
    volts = "".join(f"{t},{7 * n / 1000:.3f}\n" for t, n in zip(seconds, speeds, strict=True))
    speed = "".join(f"{t},x,{n}\n" for t, n in zip(seconds, speeds, strict=True))
    (tmp_path / "meter.csv").write_text(f"time,volts\n{volts}")
    (tmp_path / "tach.csv").write_text(f"time,note,rpm\n{speed}")
    logs = ("ac_voltage=meter.csv", "rotational_speed=tach.csv#rpm")
    ran = spinvolt_here(
        "import", "run.jsonl", *logs, "--machine", "nursery-sprayer", folder=tmp_path, capsys=capsys
    )
    assert ran.status == 0, ran.err
    assert ran.out.startswith("Verdict: ")
    assert ran.out.endswith("Recording: run.jsonl\n")
    told = spinvolt_here("result", "run.jsonl", folder=tmp_path, capsys=capsys)
    assert told.out == ran.out.partition("Recording:")[0]


def test_cards_are_listed_and_can_be_taken_as_a_start(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    listed = spinvolt_here("cards", folder=tmp_path, capsys=capsys).out
    assert "scpi-meter" in listed
    assert "nursery-sprayer" in listed
    mine = tmp_path / "mine.toml"
    mine.write_text(spinvolt_here("cards", "text-speed", folder=tmp_path, capsys=capsys).out)
    again = spinvolt_here("cards", str(mine), folder=tmp_path, capsys=capsys)
    assert again.status == 0
    assert again.out == mine.read_text()


def test_a_fault_of_our_own_leaves_a_sentence_and_a_log(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    import tui.commands.cards
    from tui.__main__ import main

    def broken(arguments: object) -> int:
        raise ZeroDivisionError("a \x1b[31mfault")

    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    monkeypatch.setattr(tui.commands.cards, "execute", broken)
    assert main(["cards"]) == 1
    err = capsys.readouterr().err
    assert err.startswith("spinvolt met a fault of its own (ZeroDivisionError: a fault); the details are in ")
    assert len(err.splitlines()) == 1
    (log,) = tmp_path.rglob("error-*.txt")
    assert str(log) in err
    assert "Traceback" in log.read_text()


def test_export_never_writes_over_its_own_recording(tmp_path: Path) -> None:
    sample = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"
    own = tmp_path / "own.jsonl"
    own.write_bytes(sample.read_bytes())
    ran = spinvolt("export", str(own), "--to", str(own), "--force", folder=tmp_path)
    assert ran.status == 2
    assert "is the recording itself" in ran.err
    assert own.read_bytes() == sample.read_bytes()


@pytest.mark.parametrize("name", ["class-10a-regulated-ac", "text-speed"])
def test_a_card_in_a_file_is_printed_like_one_by_name(tmp_path: Path, name: str) -> None:
    printed = spinvolt("cards", name, folder=tmp_path)
    file = tmp_path / "mine.toml"
    file.write_text(printed.out, "utf-8")
    assert spinvolt("cards", str(file), folder=tmp_path).out == printed.out
    file.write_text("name = ", "utf-8")
    assert "not valid TOML" in spinvolt("cards", str(file), folder=tmp_path).err
