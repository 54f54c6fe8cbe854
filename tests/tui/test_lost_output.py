"""Standard output or error that takes nothing: real files, pipes and closed numbers, of real processes."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults.rig import wait_until
from tests.tui.program import COMMAND, environment, start

_SWEEP = str(Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl")
_FULL = Path("/dev/full")
_FULL_BEFORE_ANY = (
    "The output could not be written: the disk is full. No reading came before the end (its output could not be "
    "written). No recording was kept.\n"
)
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a shell closes the streams")


def _shell(arguments: list[str], streams: str, folder: Path) -> tuple[int, str]:
    ran = subprocess.run(
        ["sh", "-c", f'"$@" {streams}', "sh", *COMMAND, *arguments],
        cwd=folder,
        env=environment(folder),
        capture_output=True,
        text=True,
        timeout=60.0,
        check=False,
    )
    assert "Traceback" not in ran.stderr
    return ran.returncode, ran.stderr


@pytest.mark.skipif(not _FULL.exists(), reason="the system has no /dev/full")
@pytest.mark.parametrize("arguments", [["result", _SWEEP], ["--help"]])
def test_a_full_disk_is_no_fault_of_the_program(arguments: list[str], tmp_path: Path) -> None:
    said = _shell(arguments, "> /dev/full", tmp_path)
    assert said == (1, "The output could not be written: the disk is full.\n")


@pytest.mark.parametrize("arguments", [["result", _SWEEP], ["--help"]])
def test_closed_output_is_told(arguments: list[str], tmp_path: Path) -> None:
    assert _shell(arguments, ">&-", tmp_path) == (1, "The output could not be written: it is closed.\n")


def test_output_longer_than_a_buffer_into_a_closed_one_is_told_the_same(tmp_path: Path) -> None:
    job = str(Path(_SWEEP).parent / "jobs" / "intermittent-joint" / "job.jsonl")
    assert _shell(["job", "report", job], ">&-", tmp_path) == (
        1,
        "The output could not be written: it is closed.\n",
    )


@pytest.mark.parametrize("streams", ["2>&-", "2>/dev/full", ">&- 2>&-"])
def test_closed_standard_error_leaves_the_status(streams: str, tmp_path: Path) -> None:
    assert _shell(["result", "gone.jsonl"], streams, tmp_path) == (1, "")


def test_closed_standard_error_leaves_the_output(tmp_path: Path) -> None:
    status, _ = _shell(["cards"], "2>&- > cards.txt", tmp_path)
    assert status == 0
    assert "nursery-sprayer" in (tmp_path / "cards.txt").read_text("utf-8")


def test_closed_input_is_input_that_has_ended(tmp_path: Path) -> None:
    status, err = _shell(["machine", "new"], "<&-", tmp_path)
    assert (status, err) == (2, "The answers ended before all was asked; no card was written.\n")


def _lost_by(path: Path, arguments: list[str], folder: Path, *, silent: bool = False) -> tuple[int, str]:
    """Run until a line comes, and a reading where the instrument is not silent, then stop listening."""
    with start(*arguments, "--headless", "--out", str(path), folder=folder) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline()
            wait_until(lambda: silent or b"\n[" in path.read_bytes(), "a reading")
            process.stdout.close()
            assert process.stderr is not None
            err = process.stderr.read()
            status = process.wait(timeout=40.0)
        except BaseException:
            process.kill()
            raise
    return status, err


def test_a_run_whose_reader_goes_is_closed_and_says_where_it_lies(tmp_path: Path) -> None:
    path = tmp_path / "the run.jsonl"
    status, err = _lost_by(path, ["demo"], tmp_path)
    assert status == 0
    assert err == (
        "The output could not be written: nobody reads it any more; the run was closed, and its recording is in "
        f"{path}.\n"
    )
    assert json.loads(path.read_bytes().splitlines()[-1])["reason"] == "its output could not be written"


def test_a_run_whose_reader_goes_before_its_result_says_where_it_lies_too(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    status, err = _lost_by(path, ["demo", "--seconds", "1.6"], tmp_path)
    assert (status, err) == (
        0,
        "The output could not be written: nobody reads it any more; the run was closed, and its recording is in "
        f"{path}.\n",
    )
    assert json.loads(path.read_bytes().splitlines()[-1])["entry"] == "close"


@pytest.mark.skipif(not _FULL.exists(), reason="the system has no /dev/full")
def test_a_run_whose_output_is_full_is_closed_and_says_where_it_lies(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    status, err = _shell(["demo", "--headless", "--out", str(path)], "> /dev/full", tmp_path)
    assert status == 1
    if not path.exists():  # what could not be written may have been told before the first reading came
        assert err == _FULL_BEFORE_ANY
        return
    assert err == (
        f"The output could not be written: the disk is full; the run was closed, and its recording is in {path}.\n"
    )
    last = json.loads(path.read_bytes().splitlines()[-1])
    assert (last["entry"], last["reason"]) == ("close", "its output could not be written")


@pytest.mark.skipif(not _FULL.exists(), reason="the system has no /dev/full")
def test_a_run_whose_output_is_full_before_a_reading_came_says_that_it_kept_none(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with socket.create_server(("127.0.0.1", 0)) as silent:
        meter = f"text-volts@socket://127.0.0.1:{silent.getsockname()[1]}"
        status, err = _shell(["run", "-i", meter, "--headless", "--out", str(path)], "> /dev/full", tmp_path)
    assert (status, err) == (1, _FULL_BEFORE_ANY)
    assert not path.exists()


def test_a_run_whose_reader_goes_before_a_reading_came_says_that_it_kept_none(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with socket.create_server(("127.0.0.1", 0)) as silent:
        meter = f"text-volts@socket://127.0.0.1:{silent.getsockname()[1]}"
        status, err = _lost_by(path, ["run", "-i", meter], tmp_path, silent=True)
    assert (status, err) == (1, _FULL_BEFORE_ANY.replace("the disk is full", "nobody reads it any more"))
    assert not path.exists()
