"""``python -m tui.pictures [FOLDER]``: makes the pictures of README and the docs anew from the sample runs."""

from __future__ import annotations

import argparse
import asyncio
import sys
from dataclasses import dataclass
from pathlib import Path

from textual.strip import Strip

from daq.model.clock import ManualClock
from daq.recording.follow import Replay
from daq.run.snapshot import Snapshot
from tui.dashboard.app import Dashboard, make_app
from tui.followed import followed_replay
from tui.pictures.screens import SCREENS, ScreenPicture, sample_folder
from tui.pictures.still import AsRecorded, StillFeed
from tui.pictures.svg import strips_to_svg

__all__ = ["PICTURES", "Picture", "draw", "draw_screen", "main"]

RECORDINGS = Path(__file__).parent.parent.parent / "recordings"
_STEP_S = 0.25
_PATIENCE_S = 60.0


@dataclass(frozen=True)
class Picture:
    """One picture: which recording, at which of its seconds, how large."""

    name: str
    recording: str
    at_s: float
    columns: int
    rows: int
    title: str
    light: bool = False


PICTURES = (
    Picture(
        "run-healthy",
        "healthy-sweep.jsonl",
        42.0,
        120,
        40,
        "The dashboard during a run: rated output, verdict, speed against its window, traces, health",
    ),
    Picture(
        "run-weak-magnets",
        "weak-magnets-hunting.jsonl",
        40.0,
        80,
        24,
        "A machine whose rated output misses its limit, on a small terminal",
    ),
    Picture(
        "run-gap",
        "gap-and-false-tach.jsonl",
        24.0,
        120,
        40,
        "The tach is silent: the dashboard says so, on a light terminal",
        light=True,
    ),
)


def main(argv: list[str] | None = None) -> int:
    """Make all pictures; gives the exit status."""
    parser = argparse.ArgumentParser(prog="python -m tui.pictures", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=RECORDINGS / "pictures")
    folder: Path = parser.parse_args(argv).folder
    folder.mkdir(parents=True, exist_ok=True)
    for picture in PICTURES:
        _write(folder, picture.name, draw(picture, RECORDINGS / picture.recording))
    for screen in SCREENS:
        _write(folder, screen.name, draw_screen(screen))
    return 0


def _write(folder: Path, name: str, svg: str) -> None:
    path = folder / f"{name}.svg"
    path.write_text(svg, encoding="utf-8")
    print(path)


def draw(picture: Picture, recording: Path) -> str:
    """Draw a picture as SVG text."""
    return asyncio.run(_draw(picture, _snapshot(recording, picture.at_s), recording))


def _snapshot(recording: Path, at_s: float) -> Snapshot:
    """The run as it stood at that second."""
    clock = ManualClock()
    with Replay(recording, clock, 1.0) as source:
        run = followed_replay(source)
        snapshot = run.update()
        while snapshot.t_s < at_s and not snapshot.finished:
            clock.advance(_STEP_S)
            snapshot = run.update()
    return snapshot


async def _draw(picture: Picture, snapshot: Snapshot, recording: Path) -> str:
    app = make_app(StillFeed(snapshot), AsRecorded(recording), light=picture.light)
    async with app.run_test(size=(picture.columns, picture.rows)) as pilot:
        while not app.run_screen.ready:
            await pilot.pause(0.01)
        app.run_screen.tick()
        await pilot.pause(0.5)
        return _svg(app, picture.title)


def draw_screen(picture: ScreenPicture) -> str:
    """Draw the picture of a screen as SVG text."""
    with sample_folder(RECORDINGS):
        return asyncio.run(_draw_screen(picture))


async def _draw_screen(picture: ScreenPicture) -> str:
    app = Dashboard(picture.make(), plain=picture.plain, light=picture.light)
    async with app.run_test(size=(picture.columns, picture.rows)) as pilot:
        async with asyncio.timeout(_PATIENCE_S):
            while picture.until not in _text(app):
                await pilot.pause(0.05)
        await pilot.press(*picture.keys)
        await pilot.pause(0.5)
        return _svg(app, picture.title)


def _strips(app: Dashboard) -> list[Strip]:
    return app.screen._compositor.render_strips()  # noqa: SLF001 - Textual gives a screen's cells nowhere else


def _text(app: Dashboard) -> str:
    return "\n".join(strip.text for strip in _strips(app))


def _svg(app: Dashboard, title: str) -> str:
    theme = app.current_theme
    return strips_to_svg(
        _strips(app),
        background=theme.background or "#000000",
        foreground=theme.foreground or "#ffffff",
        title=title,
    )


if __name__ == "__main__":
    sys.exit(main())
