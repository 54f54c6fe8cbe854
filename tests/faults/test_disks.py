"""A disk that is full, stalls, or loses the recording, in the middle of a run: told at once, and nothing is lost."""

from __future__ import annotations

import io
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from daq.errors import RecordingError, SpinvoltError
from daq.recording.reader import read_recording
from tests.daq.capture.runs import events, spec
from tests.faults.disks import TOLD_WITHIN_S, fill_the_disk, stall_the_disk
from tests.faults.drives import WHY_NOT, may_mount, read_only_folder
from tests.faults.rig import (
    Counter,
    counted,
    counters,
    program_recording,
    readings_lost,
    seen_in,
    start_capture,
    wait_until,
)
from tests.tui.program import spinvolt_here
from tui.ownsource import OwnSource

needs_mount = pytest.mark.skipif(not may_mount(), reason=WHY_NOT)


@needs_mount
def test_a_full_disk_is_told_and_costs_no_reading(tmp_path: Path) -> None:
    found = fill_the_disk(tmp_path, full_s=1.0)
    assert (found.lost, found.problems, found.whole_meanwhile) == (0, [], True)
    assert "The disk is full: run.jsonl can't grow." in found.word
    assert "make room" in found.word
    assert found.told_after_s <= TOLD_WITHIN_S
    assert found.events == ["stall", "note"]


@needs_mount
def test_a_drive_that_makes_its_writer_wait_is_told_and_costs_no_reading(tmp_path: Path) -> None:
    found = stall_the_disk(tmp_path, stalled_s=TOLD_WITHIN_S)  # and no word is awaited for longer
    assert (found.lost, found.problems, found.whole_meanwhile) == (0, [], True)
    assert "The disk has taken nothing for 2 s" in found.word
    assert found.events == ["stall", "note"]


@needs_mount
def test_a_read_only_folder_is_told_and_no_port_is_kept(tmp_path: Path) -> None:
    with read_only_folder(tmp_path) as folder, Counter("text-volts", tmp_path) as meter:
        with pytest.raises(SpinvoltError, match=r"run\.jsonl can't be written: Read-only file system"):
            start_capture(folder / "run.jsonl", meter)
        with start_capture(tmp_path / "run.jsonl", meter) as capture:
            wait_until(lambda: counted(tmp_path / "run.jsonl", 0) > 0, "readings")
            capture.stop()
            capture.wait(30)


def test_a_folder_that_vanishes_is_put_back_with_the_whole_recording(tmp_path: Path) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    path = folder / "run.jsonl"
    with counters(tmp_path) as instruments, start_capture(path, *instruments) as capture:
        wait_until(lambda: counted(path, 1) > 20, "first readings")
        shutil.rmtree(folder)
        wait_until(lambda: path.exists() and bool(events(path, "note")), "the recording is back")
        capture.stop()
        closed = capture.wait(30)
    recording = read_recording(path)
    assert recording.problems == []
    assert recording.readings == closed.readings
    assert [readings_lost(seen_in(path, channel)) for channel in (0, 1)] == [0, 0]
    assert "was removed during the run and has been put back" in events(path, "note")[0]["text"]


@pytest.mark.parametrize(
    "fault", ["file removed", "removed with a backup", "folder removed", "file moved", "folder moved"]
)
def test_the_program_goes_on_whatever_becomes_of_the_name_of_its_recording(
    tmp_path: Path, fault: str
) -> None:
    folder, other = tmp_path / "stick", tmp_path / "other"
    folder.mkdir()
    path = folder / "run.jsonl"
    lies = {"file moved": tmp_path / "cart.jsonl", "folder moved": other / "run.jsonl"}.get(fault, path)
    with program_recording(tmp_path, path, 50) as process:
        match fault:
            case "file removed":
                path.unlink()
            case "removed with a backup":
                (tmp_path / "backup.jsonl").hardlink_to(path)
                path.unlink()
            case "folder removed":
                shutil.rmtree(folder)
            case "file moved":
                path.rename(tmp_path / "cart.jsonl")
            case _:
                folder.rename(other)
        wait_until(lambda: counted(lies, 1) > 100, "it goes on")
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=40)
    assert (process.returncode, err) == (0, ""), (out, err)
    assert "Verdict: " in out
    assert f"Recording: {lies}" in out
    recording = read_recording(lies)
    assert recording.problems == []
    assert recording.close is not None
    assert recording.close.reason == "stopped by hand or by a signal"
    assert [readings_lost(seen_in(lies, channel)) for channel in (0, 1)] == [0, 0]


def test_a_recording_that_is_removed_before_the_screen_opened_it_is_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with counters(tmp_path) as instruments, start_capture(path, *instruments) as capture:
        path.unlink()
        with OwnSource(capture) as source:
            assert source.path == path
            wait_until(lambda: len(source.poll().value) > 0, "readings")


def test_a_recording_that_never_comes_back_is_told(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with counters(tmp_path) as instruments, start_capture(path, *instruments) as capture:
        capture.stop()
        capture.wait(30)
        path.unlink()
        with pytest.raises(RecordingError, match=r"There is no recording run\.jsonl in "):
            OwnSource(capture)


_WRITING = (
    "export other.jsonl --to run.jsonl --force",
    "report other.jsonl --to run.jsonl --force",
    "job report job.jsonl --to run.jsonl --force",
    "job start run.jsonl --machine class-split --force",
    "import run.jsonl ac_voltage=log.csv --force",
    "machine new --to run.jsonl --force",
    "demo --out run.jsonl --force --headless --seconds 1",
    "run -i text-volts@/dev/null --out run.jsonl --force --headless --seconds 1",
)
"""Each command that can replace a file, told to replace that one."""
_REFUSED = r"Another run is writing run\.jsonl|run\.jsonl is being written by another program"


def test_no_command_writes_over_a_recording_in_progress(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, sample = tmp_path / "run.jsonl", tmp_path / "other.jsonl"
    (tmp_path / "log.csv").write_text("time,volts\n0,20\n1,21\n", "utf-8")
    spinvolt_here(*"job start job.jsonl --machine class-split".split(), folder=tmp_path, capsys=capsys)
    with counters(tmp_path) as instruments:
        with start_capture(sample, *instruments) as capture:
            wait_until(lambda: counted(sample, 1) > 20, "readings")
            capture.stop()
            capture.wait(30)
        with start_capture(path, *instruments) as capture:
            wait_until(lambda: counted(path, 1) > 20, "first readings")
            for command in _WRITING:
                monkeypatch.setattr("sys.stdin", io.StringIO("cart\nA cart\n3\n" + "don't know\n" * 20))
                ran = spinvolt_here(*command.split(), folder=tmp_path, capsys=capsys)
                assert re.match(_REFUSED, ran.err), (command, ran)
                assert ran.status in (1, 2), command
            capture.stop()
            capture.wait(30)
    assert read_recording(path).problems == []


def test_a_recording_removed_just_before_the_end_is_put_back(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with counters(tmp_path) as instruments, start_capture(path, *instruments) as capture:
        wait_until(lambda: counted(path, 1) > 20, "first readings")
        path.unlink()
        capture.stop()
        capture.wait(30)
    recording = read_recording(path)
    assert recording.complete
    assert recording.readings > 40


def test_a_place_that_was_taken_just_before_the_end_is_not_written_over(tmp_path: Path) -> None:
    path, own = tmp_path / "run.jsonl", tmp_path / "run-2.jsonl"
    with counters(tmp_path) as instruments, start_capture(path, *instruments) as capture:
        wait_until(lambda: counted(path, 1) > 20, "first readings")
        path.unlink()
        path.write_text("precious\n")
        capture.stop()
        capture.wait(30)
        assert capture.path == str(own)
    assert path.read_text() == "precious\n"
    assert read_recording(own).problems == []
    assert [readings_lost(seen_in(own, channel)) for channel in (0, 1)] == [0, 0]


@pytest.mark.skipif(
    sys.platform != "linux", reason="limits another process's file size, which only Linux can"
)
def test_what_a_disk_that_stays_full_did_not_take_is_kept_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (tmp_path / "home").mkdir()
    path = tmp_path / "run.jsonl"
    with counters(tmp_path) as instruments, start_capture(path, *instruments) as capture:
        wait_until(lambda: counted(path, 1) > 20, "first readings")
        capture.mark(
            "x" * 50_000
        )  # so that the rest's own file stays far below the limit, however long it waits
        wait_until(lambda: path.stat().st_size > 50_000, "the mark")
        _, hard = resource.prlimit(capture.pid, resource.RLIMIT_FSIZE)
        size = path.stat().st_size
        # What is written from now on ends at that size; the rest's own file is smaller.
        resource.prlimit(capture.pid, resource.RLIMIT_FSIZE, (size, hard))
        wait_until(lambda: any(type(s).__name__ == "Stalled" for s in capture.poll_status()), "its word")
        capture.stop()
        with pytest.raises(
            SpinvoltError, match=r"ends early.* readings that it did not take are in .*run-rest"
        ):
            capture.wait(30)
    first, rest = read_recording(path), read_recording(tmp_path / "home" / "run-rest.jsonl")
    assert rest.complete
    for channel in (0, 1):
        both = np.concatenate([first.columns(channel).value, rest.columns(channel).value])
        assert np.diff(both).tolist() == [1.0] * (len(both) - 1)
        assert rest.columns(channel).t_ns[0] > first.columns(channel).t_ns[-1]
    assert [c.instrument for c in rest.channels] == [c.instrument for c in first.channels]


def test_a_dashboard_that_does_not_listen_never_holds_the_capture_up(tmp_path: Path) -> None:
    """Its word on standard error fills a pipe of 64 kB; then it goes nowhere, and the readings go on."""
    import msgspec

    path = tmp_path / "run.jsonl"
    with Counter("text-volts", tmp_path) as meter:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "daq.capture"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        assert process.stdin is not None
        process.stdin.write(msgspec.json.encode(spec(path, (meter.card, meter.address))) + b"\n")
        process.stdin.flush()
        try:
            wait_until(lambda: counted(path, 0) > 3, "first readings")
            for _ in range(40):
                process.stdin.write(b'{"do":"nothing that it knows"}\n' * 50)
                process.stdin.flush()
            before = counted(path, 0)
            wait_until(lambda: counted(path, 0) > before + 20, "readings go on")
            process.stdin.write(b'{"do":"stop"}\n')
            process.stdin.flush()
            assert process.wait(30) == 0
        finally:
            process.kill()
            process.communicate()
    assert os.path.getsize(path) > 0
    assert readings_lost(seen_in(path, 0)) == 0
