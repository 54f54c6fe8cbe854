"""What is told of files from strangers: all that matters, nothing without end, and nothing that drives a terminal."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults.strangers import CORPUS, unfit_characters
from tests.tui.program import spinvolt_here

OPENS_NO_TERMINAL = True

Capture = pytest.CaptureFixture[str]
SWEEP = (CORPUS / "recording-sweep.jsonl").read_bytes()


def test_an_export_says_what_the_recording_lacks(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "whole.jsonl").write_bytes(SWEEP)
    (tmp_path / "cut.jsonl").write_bytes(SWEEP[: len(SWEEP) * 4 // 5])
    whole = spinvolt_here("export", "whole.jsonl", "--to", "w.csv", folder=tmp_path, capsys=capsys)
    cut = spinvolt_here("export", "cut.jsonl", "--to", "c.csv", folder=tmp_path, capsys=capsys)
    assert whole.out.endswith("described in w.csv-metadata.json.\n")
    assert "The recording was cut off" in cut.out
    assert cut.out.count("\n") == 1


def test_a_report_lists_no_marks_without_end(tmp_path: Path, capsys: Capture) -> None:
    marks = b"".join(b'{"entry":"mark","t_ns":%d,"text":"mark %d"}\n' % (n * 1000, n) for n in range(5000))
    head, newline, rest = SWEEP.partition(b"\n[")
    (tmp_path / "marks.jsonl").write_bytes(head + b"\n" + marks + newline[1:] + rest)
    assert (
        spinvolt_here("report", "marks.jsonl", "--to", "r.html", folder=tmp_path, capsys=capsys).status == 0
    )
    page = (tmp_path / "r.html").read_text("utf-8")
    assert "mark 99<" in page
    assert "And 4900 more" in page
    assert "mark 100<" not in page


@pytest.mark.parametrize("words", ["--json\x1b[2J", "result a.jsonl --\u202egnihton", "\x9b31m"])
def test_an_unknown_option_is_echoed_and_never_obeyed(tmp_path: Path, words: str, capsys: Capture) -> None:
    ran = spinvolt_here(*words.split(), folder=tmp_path, capsys=capsys)
    assert ran.status == 2
    assert ran.err.count("\n") == 1
    assert not unfit_characters(ran.err)


@pytest.mark.parametrize(("options", "told"), [((), False), (("-W", "default"), True)], ids=["user", "asked"])
def test_a_warning_is_no_users_business_unless_asked_for(options: tuple[str, ...], told: bool) -> None:
    text = (
        "import sys, warnings, tui.commands.cards as cards, tui.__main__ as program\n"
        "cards.execute = lambda _: warnings.warn('overflow in a line of the source') or 0\n"
        "sys.argv = ['spinvolt', 'cards']\n"
        "sys.exit(program.main())"
    )
    ran = subprocess.run([sys.executable, *options, "-c", text], capture_output=True, text=True, check=True)
    assert ("overflow" in ran.stderr) is told


def test_an_unknown_option_without_end_is_cut(tmp_path: Path, capsys: Capture) -> None:
    ran = spinvolt_here("result", "a.jsonl", "--" + "x" * 100_000, folder=tmp_path, capsys=capsys)
    assert len(ran.err) < 2000


@pytest.mark.parametrize(
    "row", ["1" * 5000 + ",12", "0,5\n1;5", "x" * 5000 + ",12", "5,5\n1.5," + "1" * 5000 + "x"], ids=range(4)
)
def test_a_cell_without_end_is_not_echoed_whole(tmp_path: Path, row: str, capsys: Capture) -> None:
    (tmp_path / "log.csv").write_text(f"time,volts\n{row}\n")
    ran = spinvolt_here("import", "new.jsonl", "ac_voltage=log.csv", folder=tmp_path, capsys=capsys)
    assert ran.status == 1
    assert len(ran.err) < 300


def test_a_decimal_mark_in_a_number_without_end_is_not_echoed_whole(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "log.csv").write_text("time;volts\n1.5;2\n" + "1" * 900 + ",5;2\n")
    ran = spinvolt_here("import", "new.jsonl", "ac_voltage=log.csv", folder=tmp_path, capsys=capsys)
    assert "has a decimal comma where this log has a point" in ran.err
    assert len(ran.err) < 300
