"""A run that is followed while it is recorded leaves most of the computer to the capture."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest

import daq.run.live
from daq.align.parts import LONG
from daq.align.two_cores import both
from daq.model.clock import ManualClock
from daq.recording.batch import Batch, empty_batch
from daq.recording.follow import FileFollower
from daq.run.analysis import Analysis, analyse
from daq.run.live import LiveRun
from daq.run.recorded import open_recording
from daq.run.snapshot import Snapshot
from tests.daq.run.test_live_equals_whole import recorded


class _Source:
    """A source that works at each look as an analysis of very many readings does, and notes on which threads."""

    finished = False
    problems: list[str] = []

    def __init__(self) -> None:
        self.threads: set[int] = set()

    def poll(self) -> Batch:
        def note() -> None:
            self.threads.add(threading.get_ident())

        both(note, note, readings=LONG + 1)
        return empty_batch()


def test_what_an_update_does_is_done_in_its_own_thread() -> None:
    source = _Source()
    LiveRun(source).update()
    assert source.threads == {threading.get_ident()}


def followed(
    path: Path, lines: list[bytes], took_s: float, monkeypatch: pytest.MonkeyPatch
) -> tuple[list[float], Snapshot]:
    """When a run that is written was analysed, each analysis having taken so long; and its last snapshot."""
    clock, analysed_at_s = ManualClock(), list[float]()

    def slow(*given: Any, **named: Any) -> Analysis:
        analysed_at_s.append(clock.now_ns() * 1e-9)
        clock.advance(took_s)
        return analyse(*given, **named)

    path.write_bytes(b"")
    with FileFollower(path) as source, path.open("ab", buffering=0) as file:
        live = LiveRun(source, clock=clock)
        monkeypatch.setattr(daq.run.live, "analyse", slow)
        for at in range(0, len(lines), 10):
            file.write(b"".join(lines[at : at + 10]))
            snapshot = live.update()
            clock.advance(0.25)
    return analysed_at_s, snapshot


def test_an_analysis_that_took_long_is_followed_by_as_long_a_pause(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = recorded(tmp_path / "done.jsonl", "sweep", 3).splitlines(keepends=True)
    path = tmp_path / "run.jsonl"
    at_s, snapshot = followed(path, lines, 1.5, monkeypatch)
    apart = [later - sooner for sooner, later in zip(at_s[:-1], at_s[1:], strict=True)]
    assert len(apart) >= 4
    assert min(apart[:-1]) >= 3.0
    assert snapshot.finished
    assert snapshot.result == open_recording(path).analysis().result  # the last one waits for nothing


def test_an_analysis_in_which_the_program_was_suspended_is_followed_by_a_short_pause(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = recorded(tmp_path / "done.jsonl", "sweep", 3).splitlines(keepends=True)[:-1]
    at_s, _ = followed(tmp_path / "run.jsonl", lines, 3600.0, monkeypatch)
    assert len(at_s) >= 3
    assert at_s[1] - at_s[0] < 3603.0


def test_the_program_keeps_numpy_to_one_core() -> None:
    if len(os.sched_getaffinity(0)) < 2:
        pytest.skip("with one core numpy starts no other thread in any case")
    look = "import numpy, os; print(len(os.listdir('/proc/self/task')))"
    start = "import sys; sys.argv = ['spinvolt', '--version']; from tui.__main__ import main; main()"
    environment = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    threads = [
        subprocess.run(
            [sys.executable, "-c", f"{before}\n{look}"], env=environment, stdout=subprocess.PIPE, check=True
        ).stdout.split()[-1]
        for before in ("", start)
    ]
    assert int(threads[0]) > 1  # else this shows nothing
    assert threads[1] == b"1"
