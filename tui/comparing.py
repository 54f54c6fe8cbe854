"""Two recordings opened, worked out and put beside each other; takes a moment: not for a screen's loop."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.run.recorded import RecordedRun
    from tui.view.compare import CompareView, Side

__all__ = ["compare_recordings"]


def compare_recordings(before: Path, after: Path, parts: list[float] | None = None) -> CompareView:
    """Compare two recordings.

    Args:
        before: the first recording.
        after: the second.
        parts: where to tell what part of the work on each is done, from 0 to 1.

    Raises:
        RecordingError: one of them can't be opened or is no recording.
    """
    from daq.run.compared import compare_recorded
    from daq.run.recorded import work_out
    from tui.view.compare import compare_view

    told = parts if parts is not None else [0.0, 0.0]
    runs: list[RecordedRun] = []
    for index, path in enumerate((before, after)):

        def note(part: float, index: int = index) -> None:
            told[index] = part

        runs.append(work_out(path, note))
    first, second = runs
    change = compare_recorded(first, second)
    return compare_view(change, _side(first), _side(second))


def _side(run: RecordedRun) -> Side:
    from daq.locking import writer_alive
    from tui.view.compare import Side

    recording = run.recording
    return Side(
        recording.path.name,
        "" if recording.machine is None else recording.machine.title,
        run.analysis().rows,
        tuple(recording.problems),
        going_on=recording.close is None and bool(writer_alive(recording.path)),
    )
