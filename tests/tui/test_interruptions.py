"""Signals that end a command: one sentence, status 1, and nothing half written; real processes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.tui.program import start

OPENS_NO_TERMINAL = True

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="sends signals to one process")
_ROWS = 300_000
_STOPPED = "Stopped before it was done.\n"


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a log that takes seconds to import."""
    folder = tmp_path_factory.mktemp("logs")
    rows = "".join(f"{row / 20:.2f},24.5\n" for row in range(_ROWS))
    (folder / "volts.csv").write_text("time,volts\n" + rows)
    return folder


def _import(folder: Path) -> subprocess.Popen[str]:
    return start("import", "big.jsonl", "ac_voltage=volts.csv", "--force", folder=folder)


@contextmanager
def _stopped_in_good_order(folder: Path) -> Iterator[subprocess.Popen[str]]:
    """An import that is stopped within the block: it ends with one sentence, and nothing half written is left."""
    with _import(folder) as process:
        try:
            yield process
            out, err = process.communicate(timeout=40.0)
        except BaseException:
            process.kill()
            raise
    assert (process.returncode, out, err) == (1, "", _STOPPED)
    assert os.listdir(folder) == ["volts.csv"]


def _drafts(folder: Path) -> list[str]:
    return [name for name in os.listdir(folder) if name.endswith(".part")]


def _wait_for_a_draft(folder: Path, process: subprocess.Popen[str]) -> None:
    end_s = time.monotonic() + 30.0
    while not any(name.startswith(".big.") for name in _drafts(folder)):
        assert process.poll() is None, "it ended before it wrote anything"
        assert time.monotonic() < end_s, "it wrote nothing"
        time.sleep(0.01)


@pytest.mark.parametrize(
    "signals",
    [
        (signal.SIGTERM,),
        (signal.SIGHUP,),
        (signal.SIGINT,) * 5,
        (signal.SIGINT, signal.SIGTERM, signal.SIGHUP),
    ],
    ids=["term", "hangup", "five", "mixed"],
)
def test_one_or_several_in_mid_writing_leave_nothing(logs: Path, signals: tuple[signal.Signals, ...]) -> None:
    with _stopped_in_good_order(logs) as process:
        _wait_for_a_draft(logs, process)
        for each in signals:
            process.send_signal(each)
            time.sleep(0.005)


@pytest.mark.skipif(sys.platform != "linux", reason="sees by /proc when the program takes the signals")
@pytest.mark.parametrize("late_s", [0.0, 0.1, 0.3])
def test_one_that_comes_while_modules_are_loaded(logs: Path, late_s: float) -> None:
    with _stopped_in_good_order(logs) as process:
        while not _taken(process.pid, signal.SIGTERM):
            assert process.poll() is None
            time.sleep(0.002)
        time.sleep(late_s)
        for _ in range(2):
            process.send_signal(signal.SIGINT)
            time.sleep(0.01)


def _taken(pid: int, number: signal.Signals) -> bool:
    """Whether the process has a handler for the signal."""
    for line in Path(f"/proc/{pid}/status").read_text("ascii").splitlines():
        if line.startswith("SigCgt:"):
            return bool(int(line.split()[1], 16) >> (number - 1) & 1)
    return False


def test_what_a_killed_one_left_is_cleared_by_the_next(logs: Path) -> None:
    foreign = logs / ".other.jsonl.00000000-1-00000000.part"
    foreign.write_text("not of this file")
    try:
        with _import(logs) as process:
            _wait_for_a_draft(logs, process)
            process.kill()
        (left,) = set(_drafts(logs)) - {foreign.name}
        (logs / "short.csv").write_text("time,volts\n0,24.5\n1,24.5\n")
        with start("import", "big.jsonl", "ac_voltage=short.csv", folder=logs) as process:
            process.communicate(timeout=40.0)
        assert process.returncode == 0
        assert left not in _drafts(logs)
        assert _drafts(logs) == [foreign.name]
    finally:
        for name in set(os.listdir(logs)) - {"volts.csv"}:
            (logs / name).unlink()


def test_an_interrupt_that_python_could_only_print_is_raised_again() -> None:
    program = """
import time
from tui.interrupts import Interruptions
interruptions = Interruptions()
class Cleared:
    def __del__(self):
        import signal
        signal.raise_signal(signal.SIGINT)
try:
    Cleared()
    time.sleep(20.0)
except KeyboardInterrupt:
    interruptions.settle()
    print("interrupted")
"""
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=30.0, check=False
    )
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, "interrupted\n", "")


def test_what_was_to_be_ignored_is_ignored(logs: Path) -> None:
    """As nohup has it."""
    usual = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with start("machine", "new", folder=logs, stdin=subprocess.PIPE) as process:
            assert process.stdout is not None
            process.stdout.readline()
            process.send_signal(signal.SIGHUP)
            _, err = process.communicate(timeout=40.0)
    finally:
        signal.signal(signal.SIGHUP, usual)
    assert (process.returncode, err) == (2, "The answers ended before all was asked; no card was written.\n")
