"""A capture that is killed while its recording is in danger: what can be saved is, and the rest is said to be lost."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from daq.recording.reader import read_recording
from tests.daq.capture.runs import eventually, spec
from tests.faults.rig import counted, counters, program_recording, readings_lost, seen_in
from tests.tui.test_terminal import descendants
from tui.session import LiveSession

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="stops, limits and kills one process alone")

_KILLED = "The part of the program that records was ended from outside (signal 9)."


@contextmanager
def running(folder: Path, path: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """A run without a terminal that has readings, and its capture's id."""
    with program_recording(folder, path, 20) as process:
        yield process, descendants(str(process.pid))[1]


def end_of(process: subprocess.Popen[str]) -> str:
    _, err = process.communicate(timeout=40)
    assert process.returncode == 1
    return " ".join(err.split())


def test_a_removed_recording_whose_capture_dies_is_written_anew(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with running(tmp_path, path) as (process, capture):
        os.kill(capture, signal.SIGSTOP)  # so that it can't put it back first
        before = counted(path, 1)
        path.unlink()
        os.kill(capture, signal.SIGKILL)
        assert (
            end_of(process) == f"{_KILLED} run.jsonl had been removed; what stood in it is in {path} again."
        )
    assert counted(path, 1) == before
    assert [readings_lost(seen_in(path, channel)) for channel in (0, 1)] == [0, 0]
    assert read_recording(path).close is None


def test_a_removed_recording_that_can_not_be_written_anew_is_lost_and_told(tmp_path: Path) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    path = folder / "run.jsonl"
    with running(tmp_path, path) as (process, capture):
        os.kill(capture, signal.SIGSTOP)
        shutil.rmtree(folder)
        folder.write_text("no folder any more")
        os.kill(capture, signal.SIGKILL)
        assert end_of(process) == (
            f"{_KILLED} run.jsonl had been removed, and could not be written anew: what stood in it is lost."
        )


def test_what_a_full_disk_did_not_take_is_said_to_be_lost(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with running(tmp_path, path) as (process, capture):
        _, hard = resource.prlimit(capture, resource.RLIMIT_FSIZE)
        resource.prlimit(capture, resource.RLIMIT_FSIZE, (path.stat().st_size, hard))
        assert process.stdout is not None
        while "held in memory" not in (line := process.stdout.readline()):
            assert line, "it did not tell"
        os.kill(capture, signal.SIGKILL)
        said = end_of(process)
    assert said.startswith(f"{_KILLED} The disk had taken nothing")
    assert said.endswith(f"held in memory alone are lost. What came until then is in {path}.")


def test_a_run_of_the_dashboard_that_is_removed_and_dies_is_written_anew(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with counters(tmp_path) as instruments:
        session = LiveSession(spec(path, *((one.card, one.address) for one in instruments)))
        session.feed.start()
        eventually(lambda: counted(path, 1) > 20)
        os.kill(session._capture.pid, signal.SIGSTOP)
        path.unlink()
        os.kill(session._capture.pid, signal.SIGKILL)
        end = session.close()
    assert (end.path, end.closed) == (path, False)
    assert end.trouble == f"{_KILLED} run.jsonl had been removed; what stood in it is in {path} again."
    assert counted(path, 1) > 20
