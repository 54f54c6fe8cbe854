"""A recording that something else empties, overwrites or takes the name of, in the middle of its run."""

from __future__ import annotations

import os
import shutil
import signal
from pathlib import Path

import pytest

from daq.capture.spec import Stalled
from daq.errors import RecordingError
from daq.recording.reader import read_recording
from tests.daq.capture.runs import events
from tests.faults.rig import Counter, counted, counters, readings_lost, seen_in, start_capture, wait_until
from tests.tui.program import start

SAMPLE = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"
_JUNK = b"XXXXXXXXXXXXXXXXXXXXXX"
_FAULTS = ["emptied", "overwritten", "overwritten within", "replaced"]


@pytest.mark.parametrize("fault", _FAULTS)
def test_the_run_goes_on_beside_a_recording_that_something_else_changes(tmp_path: Path, fault: str) -> None:
    path, own, other = tmp_path / "run.jsonl", tmp_path / "run-2.jsonl", tmp_path / "other.jsonl"
    shutil.copy(SAMPLE, other)
    with counters(tmp_path) as instruments:
        named = [word for one in instruments for word in ("-i", f"{one.card}@{one.address}")]
        with start("run", *named, "--headless", "--out", str(path), folder=tmp_path) as process:
            wait_until(lambda: counted(path, 1) > 50, "first readings")
            _change(path, other, fault)
            wait_until(lambda: counted(own, 1) > 150, "the recording goes on")
            process.send_signal(signal.SIGINT)
            out, err = process.communicate(timeout=40)
    assert (process.returncode, err) == (0, ""), (out, err)
    assert "Verdict: " in out
    assert f"Recording: {own}" in out
    if fault == "overwritten within":
        assert _JUNK in path.read_bytes()
    else:
        assert path.read_bytes() == (b"" if fault == "emptied" else SAMPLE.read_bytes())
    recording = read_recording(own)
    assert recording.problems == []
    assert recording.close is not None
    assert recording.close.reason == "stopped by hand or by a signal"
    assert [readings_lost(seen_in(own, channel)) for channel in (0, 1)] == [0, 0]
    assert seen_in(own, 0).t_ns[0] < 1e9
    told = [event["text"] for event in events(own, "note") + events(own, "stall")]
    assert len(told) == 1
    assert "run.jsonl was changed or replaced by something else" in told[0]
    assert "goes on in run-2.jsonl, whole" in told[0]
    said = out.replace("\n", " ")
    assert said.count("goes on in run-2.jsonl") == 1
    assert said.count("something else during the run; the recording went on in run-2.jsonl, whole.") == 1
    assert said.rstrip().endswith("run-2.jsonl (something else changed or replaced run.jsonl)")


@pytest.mark.parametrize("fault", _FAULTS)
def test_one_who_looks_on_goes_along_to_the_new_file(tmp_path: Path, fault: str) -> None:
    path, own, other = tmp_path / "run.jsonl", tmp_path / "run-2.jsonl", tmp_path / "other.jsonl"
    shutil.copy(SAMPLE, other)
    with counters(tmp_path) as instruments, start_capture(path, *instruments) as capture:
        with start("watch", str(path), "--headless", folder=tmp_path) as watch:
            assert watch.stdout is not None
            said = watch.stdout.readline()
            _change(path, other, fault)
            wait_until(lambda: counted(own, 1) > 50, "the recording goes on")
            capture.stop()
            capture.wait(30)
            out, err = watch.communicate(timeout=40)
    assert (watch.returncode, err) == (0, ""), (said, out, err)
    assert f"Recording: {own}" in out
    said = out.replace("\n", " ")
    assert said.count("goes on in run-2.jsonl") == 1
    assert said.rstrip().endswith("run-2.jsonl (something else changed or replaced run.jsonl)")


def test_an_emptied_recording_leads_to_the_one_in_which_its_run_goes_on(tmp_path: Path) -> None:
    path, own = tmp_path / "run.jsonl", tmp_path / "run-2.jsonl"
    with counters(tmp_path) as instruments, start_capture(path, *instruments) as capture:
        wait_until(lambda: counted(path, 1) > 20, "first readings")
        os.truncate(path, 0)
        wait_until(lambda: bool(events(own, "note")) if own.exists() else False, "the recording goes on")
        with start("watch", str(path), "--headless", folder=tmp_path) as watch:
            assert watch.stdout is not None
            first = watch.stdout.readline()
            capture.stop()
            capture.wait(30)
            out, err = watch.communicate(timeout=40)
    assert (watch.returncode, err) == (0, ""), (first, out, err)
    said = f"{first}{out}".replace("\n", " ")
    assert (
        said.count(
            "run.jsonl was changed or replaced by something else during the run; the recording goes on"
        )
        == 1
    )
    assert said.rstrip().endswith("run-2.jsonl (something else changed or replaced run.jsonl)")
    with pytest.raises(
        RecordingError, match=r"^run\.jsonl was emptied by something else; its run is in run-2\.jsonl\.$"
    ):
        read_recording(path)


def _change(path: Path, other: Path, fault: str) -> None:
    match fault:
        case "emptied":
            os.truncate(path, 0)
        case "overwritten":
            shutil.copyfile(other, path)
        case "overwritten within":
            wait_until(lambda: path.stat().st_size > 10_000, "more than what is compared at both ends")
            with path.open("r+b") as file:
                file.seek(path.stat().st_size // 2)
                file.write(_JUNK)
        case _:
            other.rename(path)


def test_a_folder_replaced_by_a_file_is_told_once_and_the_run_is_kept_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    folder, rest = tmp_path / "stick", tmp_path / "home" / "run-rest.jsonl"
    folder.mkdir()
    rest.parent.mkdir()
    path = folder / "run.jsonl"
    with Counter("text-volts", tmp_path) as meter, start_capture(path, meter) as capture:
        wait_until(lambda: counted(path, 0) > 20, "first readings")
        shutil.rmtree(folder)
        folder.write_text("precious\n")
        wait_until(lambda: any(isinstance(each, Stalled) for each in capture.poll_status()), "its word")
        before = len(meter.sent()[0])
        wait_until(lambda: len(meter.sent()[0]) > before + 150, "further looks, which tell nothing anew")
        capture.stop()
        capture.wait(30)
        assert capture.path == str(rest)
    assert folder.read_text() == "precious\n"
    assert len(events(rest, "stall")) == 1
    assert read_recording(rest).problems == []
    assert readings_lost(seen_in(rest, 0)) == 0
