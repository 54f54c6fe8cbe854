"""The result that the README shows is the one that the program prints."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.program import spinvolt_here

_TOP = Path(__file__).parents[2]


def test_the_readmes_result_is_printed_by_its_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    section = (_TOP / "README.md").read_text("utf-8").partition("## Reading the result\n")[2]
    command = section.partition("`spinvolt ")[2].partition("`")[0].split()
    shown = section.partition("```\n")[2].partition("```")[0]
    assert command[0] == "result"
    ran = spinvolt_here("result", str(_TOP / command[1]), folder=tmp_path, capsys=capsys)
    assert ran.status == 0
    assert len(shown.splitlines()) == 6
    assert ran.out.startswith(shown)
