"""The demo in a real terminal, with real keys."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

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
        wanted = ("SPINVOLT_RECORDINGS", "SPINVOLT_CONFIG", "XDG_STATE_HOME")
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


def test_a_newcomer_runs_the_demo_and_leaves_by_q(tmux: Tmux, tmp_path: Path) -> None:
    tmux.start(f"{shlex.join(COMMAND)} demo --script hold; echo STATUS $?; sleep 60")
    screen = tmux.wait_for("meets its limit")
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
