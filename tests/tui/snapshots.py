"""Screens as text, held against files that were looked at.

``SPINVOLT_SNAPSHOTS=write python -m pytest ...`` writes them anew; look at the
difference before it is committed.
"""

from __future__ import annotations

import difflib
import os
from pathlib import Path

from textual.app import App

__all__ = ["assert_same_screen", "screen_text"]

_FOLDER = Path(__file__).parent / "snapshots"


def screen_text(app: App[None]) -> str:
    """The characters of the screen in front, row by row, without blanks at the ends of rows."""
    strips = app.screen._compositor.render_strips()
    rows = ["".join(segment.text for segment in strip) for strip in strips]
    assert {len(row) for row in rows} == {app.size.width}
    return "".join(f"{row.rstrip()}\n" for row in rows)


def assert_same_screen(app: App[None], name: str) -> None:
    """The screen looks as it did when the file of that name was written."""
    path, now = _FOLDER / f"{name}.txt", screen_text(app)
    if os.environ.get("SPINVOLT_SNAPSHOTS") == "write":
        path.parent.mkdir(exist_ok=True)
        path.write_text(now, "utf-8")
    before = path.read_text("utf-8")
    changes = "\n".join(
        difflib.unified_diff(before.splitlines(), now.splitlines(), "before", "now", lineterm="")
    )
    assert not changes, f"{path.name} looks different:\n{changes}"
