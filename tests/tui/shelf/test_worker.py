"""The process behind the list of recordings: what becomes of a wish when it dies, or when the file changes."""

from __future__ import annotations

import os
import shutil
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui.shelf.test_summaries import SWEEP, taken
from tui.shelf.worker import SummaryProcess


@pytest.fixture
def process() -> Iterator[SummaryProcess]:
    process = SummaryProcess()
    yield process
    process.close()


@pytest.fixture
def diary(tmp_path: Path) -> Path:
    path = tmp_path / "diary.jsonl"
    path.write_text("a diary\n")
    return path


def kill(process: SummaryProcess) -> None:
    """Kill the process as a computer short of memory does, and wait until that was seen."""
    assert process._process is not None
    assert process._reader is not None
    os.kill(process._process.pid, signal.SIGKILL)
    process._reader.join(30)
    assert not process._reader.is_alive()


def test_a_process_that_dies_while_it_has_nothing_to_do_costs_nothing(
    diary: Path, process: SummaryProcess
) -> None:
    process.want(diary)
    assert taken(process, 1)["diary.jsonl"].problems[0].startswith("diary.jsonl is no spinvolt recording")
    kill(process)
    process.want(diary)
    assert taken(process, 1)["diary.jsonl"].problems[0].startswith("diary.jsonl is no spinvolt recording")
    assert process.busy()[0] == 0


def test_a_file_that_changes_while_it_is_read_is_read_again_after_all_others(
    tmp_path: Path, diary: Path, process: SummaryProcess
) -> None:
    """The process is held still in the meantime, so that the order of things is certain."""
    growing = tmp_path / "growing.jsonl"
    shutil.copy(SWEEP, growing)
    process.want(diary)
    taken(process, 1)
    assert process._process is not None
    os.kill(process._process.pid, signal.SIGSTOP)
    process.want(growing)
    process.want(growing)
    process.want(growing)
    process.want(diary)
    busy = process.busy()
    os.kill(process._process.pid, signal.SIGCONT)
    assert busy[:2] == (3, "growing.jsonl")
    told: list[str] = []
    end_s = time.monotonic() + 60
    while len(told) < 3:
        assert time.monotonic() < end_s, told
        told += [Path(one.path).name for one in process.take()]
        time.sleep(0.02)
    assert told == ["growing.jsonl", "diary.jsonl", "growing.jsonl"]


def test_a_process_killed_in_the_middle_of_a_line_is_one_that_ended(process: SummaryProcess) -> None:
    out, into = os.pipe()
    os.write(into, b'{"path":"a.jsonl","part":0.2}\n{"path":"a.js')
    os.close(into)
    with os.fdopen(out, "rb") as pipe:
        process._read(pipe)
    assert process.busy() == (0, "", 0.2)
    assert process.take() == []


def test_after_the_end_nothing_is_started_any_more(diary: Path, process: SummaryProcess) -> None:
    process.close()
    process.want(diary)
    assert process._process is None
    assert process.busy()[0] == 0
