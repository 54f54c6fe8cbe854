"""Somebody who has read nothing: run the demo, find the verdict, stop, reopen the run, export it. Real keys."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.tui.program import COMMAND
from tests.tui.test_terminal import Tmux, tmux

__all__ = ["tmux"]

MOST_KEYS = 6
ALONE = shlex.join(COMMAND)


@pytest.fixture
def press(tmux: Tmux) -> Callable[[str], None]:
    """Presses a key and counts it."""
    left = [MOST_KEYS]

    def pressed(key: str) -> None:
        left[0] -= 1
        assert left[0] >= 0, "more keys than a newcomer should need"
        tmux.keys(key)

    return pressed


def exported(folder: Path) -> list[str]:
    (path,) = (folder / "recordings").glob("*.csv")
    assert path.with_name(f"{path.name}-metadata.json").exists()
    return path.read_text(encoding="utf-8").splitlines()


def test_all_of_it_without_leaving_the_dashboard(
    tmux: Tmux, tmp_path: Path, press: Callable[[str], None]
) -> None:
    tmux.start(f"{ALONE} demo; echo STATUS $?; sleep 60")
    screen = tmux.wait_for("meets its limit")
    assert "s stop" in screen
    press("s")
    screen = tmux.wait_for("Closed; q leaves. It lies in spinvolt-")
    assert "closed; q leaves" in screen.splitlines()[0]
    assert "r recordings" in screen
    press("r")
    screen = tmux.wait_for("enter open")
    assert screen.splitlines()[2].startswith(" ▶")
    press("Enter")
    screen = tmux.wait_for("The whole run's result")
    assert "e export" in screen
    press("e")
    tmux.wait_for("Exported")
    assert exported(tmp_path)[0].startswith("time_s,utc,speed_rpm,voltage_V")
    tmux.keys("C-q")
    assert "Recording:" in tmux.wait_for("STATUS 0")


def test_the_same_after_leaving_it(tmux: Tmux, tmp_path: Path, press: Callable[[str], None]) -> None:
    tmux.start(f"{ALONE} demo; {ALONE}; echo STATUS $?; sleep 60")
    tmux.wait_for("meets its limit")
    press("q")
    screen = tmux.wait_for("enter open")
    assert screen.splitlines()[2].startswith(" ▶")
    press("Enter")
    tmux.wait_for("The whole run's result")
    press("e")
    tmux.wait_for("Exported")
    assert len(exported(tmp_path)) > 5
    press("q")
    tmux.wait_for("enter open")
    press("q")
    tmux.wait_for("STATUS 0")
