"""The first frame: useful at once, in its final layout, and before anything heavy is imported."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from rich.console import RenderableType
from textual.screen import Screen

from tests.tui.builders import RecordingControl
from tui.dashboard.app import Dashboard
from tui.dashboard.run_screen import RunScreen


class SilentFeed:
    """Nothing has come yet."""

    def start(self) -> None: ...

    def latest(self) -> None:
        return None

    def notice(self) -> str:
        return ""

    def stop(self) -> None: ...


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
async def test_the_first_frame_says_what_happens_and_what_can_be_done(
    size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    frames: list[list[str]] = []
    display = Dashboard._display

    def filmed(self: Dashboard, screen: Screen[object], renderable: RenderableType | None) -> None:
        if renderable is not None:
            strips = screen._compositor.render_strips()
            frames.append(["".join(segment.text for segment in strip) for strip in strips])
        display(self, screen, renderable)

    monkeypatch.setattr(Dashboard, "_display", filmed)
    app = Dashboard(RunScreen(SilentFeed(), RecordingControl(Path("run.jsonl"))), light=False)
    async with app.run_test(size=size) as pilot:
        await pilot.pause(0.2)
    assert "Opening run.jsonl ..." in "\n".join(frames[0])
    assert "● recording" in frames[0][0]
    assert "q stop & close" in frames[0][-1]
    assert frames[0] == frames[-1], "laid out for another size at first"


def test_screens_start_without_what_only_readings_need(tmp_path: Path) -> None:
    recording = tmp_path / "run.jsonl"
    recording.touch()
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from tui.followed import followed_file\n"
        "from tui.latesource import LateSource\n"
        "from tui.replaying import ReplayFeed\n"
        "from tui.dashboard.replay_screen import ReplayScreen\n"
        "from tui.dashboard.shelf_screen import ShelfScreen\n"
        "from daq.model.clock import SystemClock\n"
        f"path = Path({str(recording)!r})\n"
        "ReplayScreen(ReplayFeed(path, SystemClock()), path)\n"
        "followed_file(LateSource(path))\n"
        "print(*sorted({'numpy', 'pandas', 'scipy', 'matplotlib', 'serial'} & set(sys.modules)))\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == ""
