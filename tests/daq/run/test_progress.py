"""How far the working out of a run has come: told at the boundaries of its stages, in the caller's thread."""

from __future__ import annotations

import threading
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from daq.model.clock import ManualClock
from daq.model.quantity import Quantity
from daq.report.page import write_report
from daq.run.analysis import analyse
from daq.run.channels import RunData
from daq.run.recorded import open_recording, work_out
from tests.daq.report.recorded import volts_and_speed, written
from tests.daq.run.builders import run
from tests.runs import channel_of


def told(data: RunData) -> list[float]:
    parts: list[float] = []
    threads: set[str] = set()

    def note(part: float) -> None:
        parts.append(part)
        threads.add(threading.current_thread().name)

    assert analyse(data, progress=note).result == analyse(data).result
    assert threads == {threading.current_thread().name}
    return parts


def rises(parts: list[float]) -> bool:
    return all(one < other for one, other in pairwise(parts))


@pytest.mark.parametrize("own_clocks", [False, True])
def test_each_stage_is_told_from_nothing_to_the_whole(own_clocks: bool) -> None:
    parts = told(run(own_clocks=own_clocks))
    assert (parts[0], parts[-1]) == (0.0, 1.0)
    assert len(parts) == 6, "begun, placed, paired, judged, scattered, done"
    assert rises(parts)


def test_where_two_threads_work_only_the_callers_own_tells(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("daq.align.two_cores.LONG", 10)  # as for very many readings
    started: list[str] = []
    start = threading.Thread.start

    def noted(thread: threading.Thread) -> None:
        started.append(thread.name)
        start(thread)

    monkeypatch.setattr(threading.Thread, "start", noted)
    assert rises(told(run()))
    assert started


def test_a_run_without_a_pair_is_done_when_it_is_begun() -> None:
    data = run()
    alone = replace(data, channels=(channel_of(0, Quantity.AC_VOLTAGE, np.arange(9.0), np.full(9, 24.0)),))
    assert told(alone) == [0.0, 1.0]


def test_a_recorded_run_is_worked_out_and_told_once(tmp_path: Path) -> None:
    parts: list[float] = []
    opened = open_recording(written(tmp_path / "run.jsonl", volts_and_speed(24.0)))
    result = opened.result(progress=parts.append)
    assert (parts[0], parts[-1]) == (0.0, 1.0)
    parts.clear()
    assert opened.result(progress=parts.append) is result
    assert parts == []


def test_reading_and_working_out_are_told_as_one(tmp_path: Path) -> None:
    path = written(tmp_path / "run.jsonl", volts_and_speed(24.0))
    parts: list[float] = []
    run = work_out(path, parts.append)
    told_before = list(parts)
    assert run.result(progress=parts.append) == open_recording(path).result()
    assert parts == told_before, "nothing is left to work out"
    assert parts == sorted(parts)
    assert parts[-1] == 1.0
    assert len([part for part in parts if 0.4 < part < 1.0]) >= 3, "the stages of working out"
    assert parts.count(0.4) == 2, "reading ends where working out begins"


def test_a_report_goes_on_from_reading_to_working_out_to_writing(tmp_path: Path) -> None:
    files = [
        written(tmp_path / f"{name}.jsonl", volts_and_speed(volts))
        for name, volts in (("before", 18.0), ("after", 24.0))
    ]
    seen: list[tuple[str, float]] = []
    write_report(
        files,
        tmp_path / "page.html",
        ManualClock(),
        progress=lambda part: seen.append(("reading", part)),
        working_out=lambda part: seen.append(("working out", part)),
        writing=lambda part: seen.append(("writing", part)),
    )
    assert list(dict.fromkeys(stage for stage, _ in seen)) == ["reading", "working out", "writing"]
    for stage in ("working out", "writing"):
        parts = [part for name, part in seen if name == stage]
        assert (parts[0], parts[-1]) == (0.0, 1.0)
        assert parts == sorted(parts)
        assert any(0.0 < part < 0.5 for part in parts), "each of the two recordings has its part"
