"""ASCII without being asked for, where the terminal or its locale says that it can't draw more."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.program import COMMAND
from tests.tui.test_terminal import Tmux, tmux
from tui.terminal import BROWSER_VARIABLE, draws_plain_only

__all__ = ["tmux"]

SWEEP = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"


@pytest.mark.parametrize(
    ("variables", "plain"),
    [
        ("", False),
        ("TERM=xterm-256color LANG=en_GB.UTF-8", False),
        ("TERM=dumb LANG=en_GB.UTF-8", True),
        ("LANG=C", True),
        ("LANG=POSIX", True),
        ("LANG=C LC_CTYPE=C.UTF-8", True),
        ("LANG=en_GB LC_CTYPE=en_GB.utf8", False),
        ("LANG=en_GB.ISO-8859-1", True),
        ("LANG=en_GB.UTF-8 LC_ALL=C", True),
        ("LANG=C LC_ALL=C.UTF-8", False),
        ("LANG=C.UTF-8 LC_ALL=", False),
        (f"TERM=dumb LC_ALL=C {BROWSER_VARIABLE}=somewhere", False),
    ],
)
def test_what_the_terminal_says(variables: str, plain: bool) -> None:
    assert draws_plain_only(dict(each.split("=") for each in variables.split())) is plain


@pytest.mark.parametrize("setting", ["TERM=dumb", "LC_ALL=C", "LC_ALL=C.UTF-8"])
def test_the_dashboard_keeps_to_it(tmux: Tmux, setting: str) -> None:  # noqa: F811 - the fixture of that name
    command = " ".join(COMMAND)
    tmux.start(f"env {setting} {command} replay {SWEEP}")
    screen = tmux.wait_for("rated output")
    assert screen.isascii() is (setting != "LC_ALL=C.UTF-8"), screen
    tmux.keys("q")
