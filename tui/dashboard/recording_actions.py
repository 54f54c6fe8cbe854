"""What can be done with a recording from any screen that shows one: export it, write its report."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from tui.background import free_name, run_beside

if TYPE_CHECKING:
    from tui.dashboard.base_screen import BaseScreen

__all__ = ["export_recording", "write_report"]

_LONG_S = 12.0


def export_recording(screen: BaseScreen, path: Path) -> None:
    """Write the aligned rows beside the recording, and say where they are."""
    target = free_name(path, ".csv")
    _beside(screen, f"Exporting {path.name} ...", "Exported", ["export", str(path), "--to", str(target)])


def write_report(screen: BaseScreen, path: Path) -> None:
    """Write the report beside the recording, and say where it is."""
    target = free_name(path, ".html")
    _beside(
        screen, f"Writing the report of {path.name} ...", "Report", ["report", str(path), "--to", str(target)]
    )


def _beside(screen: BaseScreen, begun: str, title: str, arguments: list[str]) -> None:
    screen.dashboard.tell(begun, timeout_s=3)
    screen.run_worker(_told(screen, title, arguments), group=f"{title} {arguments[1]}", exclusive=True)


async def _told(screen: BaseScreen, title: str, arguments: list[str]) -> None:
    outcome = await run_beside(arguments)
    folder = f"{Path(arguments[1]).parent}{os.sep}"
    if outcome.done:
        # The person knows the folder: the names are what is new.
        screen.dashboard.tell(outcome.sentence.replace(folder, ""), title=title, timeout_s=_LONG_S)
    else:
        screen.dashboard.tell(
            outcome.sentence, title=f"{title}: not done", severity="error", timeout_s=_LONG_S
        )
