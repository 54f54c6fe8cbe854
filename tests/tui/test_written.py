"""A signal that comes when a command's file is in place: what is said is true of what lies there."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from daq.run.recorded import open_recording
from tests.tui.program import Ran, environment
from tui.written import writing

OPENS_NO_TERMINAL = True

_RECORDINGS = Path(__file__).parents[2] / "recordings"
_RENAMING = """
import os, signal, sys
import {module} as one

class Renaming:
    done = 0
    def replace(self, old, new):
        os.replace(old, new)
        self.done += 1
        if self.done == wanted:
            os.kill(os.getpid(), signal.SIGINT)
    def __getattr__(self, name):
        return getattr(os, name)

wanted = int(sys.argv[1])
one.os = Renaming()
from tui.__main__ import main
sys.argv[1:] = sys.argv[2:]
sys.exit(main())
"""
_AT_THE_END = """
import signal
from pathlib import Path
from tui.interrupts import Interruptions
from tui.written import writing

Interruptions()
writing([Path("one")], lambda: 0, "")
signal.raise_signal(signal.SIGINT)
print("to the end")
"""
on_posix = pytest.mark.skipif(sys.platform == "win32", reason="a process sends itself SIGINT")


def _child(folder: Path, code: str, *words: str) -> Ran:
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=folder,
        env={**environment(folder), "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        timeout=60.0,
        check=False,
    )
    return Ran(done.returncode, done.stdout, " ".join(done.stderr.split()), folder)


@on_posix
def test_an_import_that_is_whole_says_so(tmp_path: Path) -> None:
    (tmp_path / "volts.csv").write_text("t,v\n0,24.1\n1,24.2\n")
    (tmp_path / "out.jsonl").write_text("old\n")
    code = _RENAMING.format(module="daq.output")
    ran = _child(tmp_path, code, "1", "import", "out.jsonl", "ac_voltage=volts.csv", "--force")
    told = "Stopped before its result was told; the recording is whole: out.jsonl"
    assert (ran.status, ran.out, ran.err) == (1, "", told)
    assert open_recording(tmp_path / "out.jsonl").recording.complete


@on_posix
def test_an_export_says_so_of_both_files(tmp_path: Path) -> None:
    names = ["rows.csv", "rows.csv-metadata.json"]
    for name in names:
        (tmp_path / name).write_text("old")
    run = str(_RECORDINGS / "weak-magnets-hunting.jsonl")
    code = _RENAMING.format(module="daq.export.pair")
    ran = _child(tmp_path, code, "2", "export", run, "--to", "rows.csv", "--force")
    told = "Stopped when all was written: rows.csv and rows.csv-metadata.json are whole."
    assert (ran.status, ran.out, ran.err) == (1, "", told)
    assert "old" not in [(tmp_path / name).read_text() for name in names]


@on_posix
def test_one_that_comes_after_the_last_word_changes_nothing(tmp_path: Path) -> None:
    ran = _child(tmp_path, _AT_THE_END)
    assert (ran.status, ran.out, ran.err) == (0, "to the end\n", "")


def _replacing(*paths: Path) -> Callable[[], int]:
    def work() -> int:
        for path in paths:
            draft = path.with_suffix(".part")
            draft.write_text("new")
            os.replace(draft, path)
        raise KeyboardInterrupt

    return work


def test_it_is_said_only_where_every_file_is_new(tmp_path: Path) -> None:
    old, first = tmp_path / "old", tmp_path / "first"
    old.write_text("old")
    for replaced, said in (([], ""), ([first], ""), ([old, first], "both are whole")):
        with pytest.raises(KeyboardInterrupt) as stopped:
            writing([old, first], _replacing(*replaced), "both are whole")
        assert str(stopped.value) == said
        first.unlink(missing_ok=True)


def test_what_ends_well_gives_its_status(tmp_path: Path) -> None:
    assert writing([tmp_path / "none"], lambda: 3, "whole") == 3
