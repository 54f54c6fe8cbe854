"""What a person sees of a screen, as text, and snapshots of it that lie in the repository."""

from __future__ import annotations

import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tui.dashboard.app import Dashboard
from tui.dashboard.base_screen import BaseScreen

__all__ = [
    "SIZES",
    "UPDATE",
    "check_snapshot",
    "screen_name",
    "screen_rows",
    "screen_text",
    "shown_screen",
    "wait_until",
]

SMALL, MIDDLE = (80, 24), (120, 40)
SIZES = (SMALL, MIDDLE)
UPDATE = "SPINVOLT_SNAPSHOTS"
"""Environment variable: ``write`` makes the snapshots anew instead of comparing with them. Look at them then."""
_FOLDER = Path(__file__).parent / "snapshots"


@asynccontextmanager
async def shown_screen(
    screen: BaseScreen, size: tuple[int, int] = SMALL, *, plain: bool = False
) -> AsyncIterator[tuple[Dashboard, Pilot[None]]]:
    """The dashboard with that screen first, as soon as its widgets are there."""
    app = Dashboard(screen, plain=plain, light=False)
    async with app.run_test(size=size) as pilot:
        while not screen.ready:
            await pilot.pause(0.01)
        await pilot.pause()
        yield app, pilot


def screen_name(app: Dashboard) -> str:
    """What the registry calls the front screen."""
    screen = app.screen
    return screen.NAME if isinstance(screen, BaseScreen) else type(screen).__name__


def screen_rows(app: Dashboard) -> list[str]:
    """The characters of the front screen, row by row."""
    strips = app.screen._compositor.render_strips()
    return ["".join(segment.text for segment in strip) for strip in strips]


def screen_text(app: Dashboard) -> str:
    """The characters of the front screen."""
    return "\n".join(screen_rows(app))


async def wait_until(app: Dashboard, pilot: Pilot[None], text: str, *, times: int = 1000) -> str:
    """Wait until that text is on the front screen."""
    for _ in range(times):
        if text in (seen := screen_text(app)):
            return seen
        await pilot.pause(0.02)
    pytest.fail(f"{text!r} did not come; the screen is:\n{screen_text(app)}")


def check_snapshot(app: Dashboard, name: str) -> None:
    """Compare the front screen, all but its row of keys, with the snapshot of that name."""
    width, height = app.size
    path = _FOLDER / f"{name}-{width}x{height}.txt"
    seen = "\n".join(row.rstrip() for row in screen_rows(app)[:-1]) + "\n"
    if os.environ.get(UPDATE) == "write":
        path.write_text(seen, encoding="utf-8")
        return
    assert seen == path.read_text(encoding="utf-8"), f"{path.name} differs; {UPDATE}=write makes it anew"
