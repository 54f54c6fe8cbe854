"""A short job in a real terminal, with real keys, a real capture, and the window closed in the middle of it."""

from __future__ import annotations

import shlex
import time
from pathlib import Path

import pytest

from daq.job.job import Job
from daq.model.clock import ManualClock
from tests.faults.rig import counted, wait_until
from tests.tui.bench_walk import BenchWalk
from tests.tui.program import COMMAND, spinvolt_here
from tests.tui.test_terminal import Tmux, alive, descendants, tmux

__all__ = ["tmux"]


def test_record_type_skip_and_close_the_window(tmux: Tmux, tmp_path: Path) -> None:
    with BenchWalk(tmp_path / "walk", "weak_magnets") as walk:
        job = walk.folder / "cart.jsonl"
        walk.tell("leads battery; engine stopped")
        tmux.start(shlex.join([*COMMAND, "job", "open", str(job), *walk.instruments]))
        tmux.wait_for("▶ Enter records battery volts at rest")
        tmux.keys("Enter")
        tmux.wait_for("Enter when all is set.")
        assert "A battery on charge gives off hydrogen" in tmux.screen()
        tmux.keys("Enter")
        tmux.wait_for("● recording")
        path = walk.folder / "cart-battery_rest-rest_voltage.jsonl"
        wait_until(lambda: counted(path, 0) > 5, "readings")
        tmux.keys("q")
        tmux.wait_for("1 of 9 tests done")
        # A reading by hand in place of the recording, then a test left out.
        tmux.keys("i")
        tmux.wait_for("Type it, then Enter.")
        tmux.keys("6.1", "Enter")
        tmux.wait_for("✓ amps that all loads draw: 6.1")
        tmux.keys("s")
        tmux.wait_for("Why is it left out?")
        tmux.keys("no helper for the switch", "Enter")
        tmux.wait_for("2 of 9 tests done")
        family = descendants(tmux("list-panes", "-F", "#{pane_pid}").strip())
        tmux("kill-server")
        end_s = time.monotonic() + 30
        while left := [pid for pid in family if alive(pid)]:
            assert time.monotonic() < end_s, left
            time.sleep(0.05)
        status = Job.open(job, ManualClock()).status()
    assert status.troubles == ()
    (rest,) = status.step("battery_rest").observed
    assert rest.readings > 3
    assert status.step("battery_rest").state in {"pass", "too_close"}
    assert status.step("loads").reason == "no helper for the switch"
    assert [path.name for path in walk.folder.glob("cart-*.jsonl")] == [
        "cart-battery_rest-rest_voltage.jsonl"
    ]


def test_without_a_terminal_the_screen_is_refused_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "cart.jsonl"
    for arguments, status, said in (
        (("start", str(job), "--machine", "nursery-sprayer"), 0, ""),
        (("open", str(job)), 2, "spinvolt job next"),
        (("open", str(tmp_path / "none.jsonl")), 1, "none.jsonl"),
    ):
        ran = spinvolt_here("job", *arguments, folder=tmp_path, capsys=capsys)
        assert ran.status == status
        assert said in ran.err
        assert ran.err.count("\n") == (status > 0)
