"""Runs the program as its user does: as a process of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

__all__ = ["Ran", "environment", "interrupt", "spinvolt", "spinvolt_here", "start"]

COMMAND = [sys.executable, "-m", "tui"]


@dataclass(frozen=True)
class Ran:
    """A process that has ended."""

    status: int
    out: str
    err: str
    folder: Path


def environment(folder: Path) -> dict[str, str]:
    """The user's environment, with all that the program writes kept in the folder."""
    places = {
        name: str(folder / name.lower()) for name in ("XDG_STATE_HOME", "SPINVOLT_CONFIG", "SPINVOLT_CACHE")
    }
    return {**os.environ, **places, "SPINVOLT_RECORDINGS": str(folder / "recordings")}


def start(*arguments: str, folder: Path, stdin: int = subprocess.DEVNULL) -> subprocess.Popen[str]:
    """Start the program."""
    return subprocess.Popen(
        [*COMMAND, *arguments],
        cwd=folder,
        env=environment(folder),
        stdin=stdin,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
    )


def interrupt(process: subprocess.Popen[str], number: signal.Signals = signal.SIGINT) -> None:
    """Send a signal and see it taken: of two that wait for a process that a busy machine lets not run, one is left."""
    process.send_signal(number)
    end_s = time.monotonic() + 30.0
    while _waits(process.pid, number):
        assert time.monotonic() < end_s, "the signal was not taken"
        time.sleep(0.002)


def _waits(pid: int, number: signal.Signals) -> bool:
    """Whether a process has not taken a signal yet: proc(5), which Linux alone has."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text("ascii").splitlines()
    except OSError:
        return False
    waiting = (int(line.split()[1], 16) for line in lines if line.startswith(("SigPnd:", "ShdPnd:")))
    return any(mask >> (number - 1) & 1 for mask in waiting)


def spinvolt_here(*arguments: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> Ran:
    """Run a command within the test's own process, which is much quicker, and else the same."""
    from tui.__main__ import main

    capsys.readouterr()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for name, value in environment(folder).items():
            patch.setenv(name, value)
        try:
            status = main(arguments)
        except SystemExit as ending:
            status = int(ending.code or 0)
    out, err = capsys.readouterr()
    return Ran(status, out, err, folder)


def spinvolt(*arguments: str, folder: Path, timeout_s: float = 60.0) -> Ran:
    """Run the program to its end."""
    with start(*arguments, folder=folder) as process:
        try:
            out, err = process.communicate(timeout=timeout_s)
        except BaseException:
            process.kill()
            raise
    return Ran(process.returncode, out, err, folder)
