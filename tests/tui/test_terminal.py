"""The demo in a real terminal, with real keys."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.rig import counted, wait_until
from tests.tui.program import COMMAND, environment


class Tmux:
    """A terminal of 80 by 24."""

    def __init__(self, folder: Path) -> None:
        self._socket = str(folder / "tmux.sock")
        self._folder = folder

    def __call__(self, *arguments: str) -> str:
        command = ["tmux", "-S", self._socket, "-f", "/dev/null", *arguments]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout

    def start(self, command: str) -> None:
        wanted = ("SPINVOLT_RECORDINGS", "SPINVOLT_CONFIG", "XDG_STATE_HOME", "SPINVOLT_CACHE")
        places = [f"{name}={environment(self._folder)[name]}" for name in wanted]
        settings = [part for place in places for part in ("-e", place)]
        self("new-session", "-d", "-x", "80", "-y", "24", "-c", str(self._folder), *settings, command)

    def screen(self) -> str:
        return self("capture-pane", "-p")

    def wait_for(self, text: str, timeout_s: float = 20.0) -> str:
        end_s = time.monotonic() + timeout_s
        while text not in (screen := self.screen()):
            if time.monotonic() > end_s:
                pytest.fail(f"{text!r} did not come; the screen is:\n{screen}")
            time.sleep(0.05)
        return screen

    def keys(self, *keys: str) -> None:
        self("send-keys", *keys)


@pytest.fixture
def tmux(tmp_path: Path) -> Iterator[Tmux]:
    assert shutil.which("tmux"), "this test needs tmux: apt-get install tmux"
    terminal = Tmux(tmp_path)
    yield terminal
    subprocess.run(
        ["tmux", "-S", str(tmp_path / "tmux.sock"), "kill-server"], capture_output=True, check=False
    )


def descendants(pid: str) -> list[int]:
    """The process and all that it started."""
    table = subprocess.run(["ps", "-eo", "pid=,ppid="], capture_output=True, text=True, check=True).stdout
    parents = [tuple(map(int, line.split())) for line in table.splitlines()]
    family = [int(pid)]
    for one in family:
        family += [child for child, parent in parents if parent == one]
    return family


def alive(pid: int) -> bool:
    """Whether the process is there and not a mere entry in the table."""
    state = subprocess.run(["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False)
    return bool(state.stdout.strip()) and not state.stdout.startswith("Z")


def test_when_the_terminal_goes_away_the_recording_is_closed_and_nothing_is_left(
    tmux: Tmux, tmp_path: Path
) -> None:
    tmux.start(f"{shlex.join(COMMAND)} demo")
    tmux.wait_for("● recording")
    (path,) = (tmp_path / "recordings").iterdir()
    wait_until(lambda: counted(path, 0) > 0, "a reading: a recording without any is not kept")
    family = descendants(tmux("list-panes", "-F", "#{pane_pid}").strip())
    assert len(family) >= 3, "dashboard, capture and bench"
    tmux("kill-server")
    end_s = time.monotonic() + 10
    while left := [pid for pid in family if alive(pid)]:
        assert time.monotonic() < end_s, left
        time.sleep(0.05)
    assert "the program that started it has gone" in path.read_text().splitlines()[-1]


def test_a_newcomer_runs_the_demo_and_leaves_by_q(tmux: Tmux, tmp_path: Path) -> None:
    tmux.start(f"{shlex.join(COMMAND)} demo --script hold; echo STATUS $?; sleep 60")
    screen = tmux.wait_for("± 0.")  # near rated speed: what is printed at the end is short then
    assert "meets its limit" in screen
    assert "● recording" in screen
    assert "rpm" in screen
    assert "██" in screen
    tmux.keys("?")
    tmux.wait_for("Write a mark into the recording")
    tmux.keys("Escape")
    tmux.wait_for("stop & close")
    tmux.keys("m")
    tmux.wait_for("Mark 1 at")
    tmux.keys("q")
    end = tmux.wait_for("STATUS 0")
    assert "Verdict: PASS" in end
    (path,) = (tmp_path / "recordings").iterdir()
    assert "Recording:" in end
    text = path.read_text()
    assert '"mark 1"' in text
    assert '"close"' in text.splitlines()[-1]
