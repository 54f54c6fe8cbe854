"""Progress bars that are drawn from the first moment on, for commands that are run within the test's own process."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.program import environment

__all__ = ["bars_at_once"]


def bars_at_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw every step of a bar, however quick; the folder is the user's own, and the current one."""
    monkeypatch.setattr("tui.progress.PATIENCE_S", 0.0)
    monkeypatch.setattr("tui.progress._REDRAW_S", 0.0)
    monkeypatch.chdir(folder)
    for name, value in environment(folder).items():
        monkeypatch.setenv(name, value)
