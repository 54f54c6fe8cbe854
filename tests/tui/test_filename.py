"""Names that are folders or empty: told in one sentence with its subject, by every command."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.program import spinvolt_here

_SWEEP = str(Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl")


@pytest.mark.parametrize(
    "arguments",
    [
        ["result", "."],
        ["watch", ".", "--headless"],
        ["replay", "deeper/..", "--headless"],
        ["compare", _SWEEP, "."],
        ["job", "status", "."],
        ["job", "start", ".", "--machine", "nursery-sprayer"],
        ["report", ".", "--to", "x.html"],
        ["report", _SWEEP, "--to", "."],
        ["export", ".", "--to", "x.csv"],
        ["export", _SWEEP, "--to", "."],
        ["export", _SWEEP, "--to", ".", "--force"],
        ["import", ".", f"ac_voltage={_SWEEP}"],
        ["import", "x.jsonl", "ac_voltage=."],
        ["demo", "--headless", "--out", "."],
    ],
)
def test_a_folder_is_called_by_its_own_name(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "the shed"
    (folder / "deeper").mkdir(parents=True)
    ran = spinvolt_here(*arguments, folder=folder, capsys=capsys)
    assert ran.status == 1
    assert ran.err.startswith(("the shed is a folder", "the shed is no ordinary file"))
    assert ran.err.count("\n") == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ["result", ""],
        ["watch", "", "--headless"],
        ["job", "status", ""],
        ["report", _SWEEP, "--to", ""],
        ["export", _SWEEP, "--to", "", "--force"],
        ["import", "x.jsonl", "ac_voltage=#volts"],
        ["recordings", "", "--headless"],
    ],
)
def test_an_empty_name_is_called_empty(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = spinvolt_here(*arguments, folder=tmp_path, capsys=capsys)
    assert ran.status == 2
    assert ran.err == "A name is empty where that of a file or folder is needed; give one.\n"


@pytest.mark.parametrize(
    "arguments", [["result", "/"], ["job", "status", "/"], ["export", _SWEEP, "--to", "/", "--force"]]
)
def test_the_root_has_no_other_name(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = spinvolt_here(*arguments, folder=tmp_path, capsys=capsys)
    assert (ran.status, ran.err) == (2, "'/' is a folder; give the name of a file.\n")


def test_the_recordings_of_any_folder_can_be_listed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = spinvolt_here("recordings", ".", "--headless", folder=tmp_path, capsys=capsys)
    assert (ran.status, ran.out) == (0, f"No recordings are in {tmp_path} yet.\n")
