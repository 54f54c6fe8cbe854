"""A dashboard that was suspended is left by one key, and the terminal is as it was."""

from __future__ import annotations

import os
import shlex
import signal
import time
from pathlib import Path

from tests.daq.capture.runs import lines
from tests.faults.rig import counted, counters, wait_until
from tests.faults.screens import run_arguments
from tests.faults.terminal import Terminal
from tests.tui.program import COMMAND
from tests.tui.test_terminal import Tmux, descendants, tmux

__all__ = ["tmux"]

_TIMES = 3
"""Each leaves the dashboard waiting for a key once in a while, where two threads read keys."""
_PRESSED = 15
_LASTING = ("● recording", "rated output at", "volts at rated speed", "q stop & close")
_EXPLAINED = "Write a mark into the recording"


def _state(pid: int) -> str:
    return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]


def _stop(tmux: Tmux, pid: int) -> None:
    os.kill(pid, signal.SIGSTOP)


def _press_ctrl_z(tmux: Tmux, pid: int) -> None:
    tmux.keys("C-z")
    tmux.wait_for("spinvolt is put aside")


def _is_whole(screen: str) -> bool:
    """The picture's parts that never change are there, and nothing of the shell."""
    return all(part in screen for part in _LASTING) and "here>" not in screen


def _marks(path: Path) -> int:
    return sum(isinstance(line, dict) and line["entry"] == "mark" for line in lines(path))


def test_a_shell_gets_its_terminal_back_and_gives_it_again(tmux: Tmux, tmp_path: Path) -> None:
    tmux.start("PS1='here> ' bash --norc --noprofile -i")
    tmux.wait_for("here>")
    tmux.keys("stty -a > before", "Enter")
    tmux.keys(f"{shlex.join(COMMAND)} demo --script hold", "Enter")
    wait_until(lambda: _is_whole(tmux.screen()), "first picture")
    _, pid, *others = descendants(tmux("list-panes", "-F", "#{pane_pid}").strip())
    for suspend in (_stop, _press_ctrl_z, _stop):
        suspend(tmux, pid)
        wait_until(lambda: _state(pid) == "T", "the dashboard has stopped")
        assert "T" not in {_state(other) for other in others}, "the run goes on"
        tmux.keys("clear; fg; echo STATUS $?", "Enter")
        wait_until(lambda: _is_whole(tmux.screen()), "all of the screen is drawn again")
    tmux.keys("?")
    tmux.wait_for(_EXPLAINED)
    _press_ctrl_z(tmux, pid)
    tmux.keys("clear; fg; echo STATUS $?", "Enter")
    tmux.wait_for(_EXPLAINED)
    tmux.keys("Escape")
    wait_until(lambda: _is_whole(tmux.screen()), "the run screen")
    tmux.keys("q")
    assert "Recording:" in tmux.wait_for("STATUS 0")
    tmux.keys("stty -a > after", "Enter", "echo 'END'", "Enter")
    tmux.wait_for("\nEND")
    assert (tmp_path / "after").read_text() == (tmp_path / "before").read_text()


def test_no_key_is_lost_or_doubled_by_a_stop_and_one_q_ends_it(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with counters(tmp_path) as instruments, Terminal(tmp_path, *run_arguments(path, instruments)) as terminal:
        wait_until(lambda: terminal.read > 4000 and counted(path, 1) > 0, "first picture")
        assert not terminal.is_a_shells
        for done in range(_TIMES):
            terminal.process.send_signal(signal.SIGSTOP)
            wait_until(lambda: _state(terminal.process.pid) == "T", "it has stopped")
            terminal.type("m")
            terminal.process.send_signal(signal.SIGCONT)
            for _ in range(_PRESSED - 1):
                time.sleep(0.03)  # one may come whenever it likes
                terminal.type("m")
            wanted = _PRESSED * (done + 1)
            wait_until(lambda: _marks(path) == wanted, f"{wanted} marks")  # noqa: B023 - waited for here
        terminal.type("q")
        assert terminal.process.wait(20) == 0
        assert _marks(path) == _PRESSED * _TIMES
        assert terminal.is_a_shells
