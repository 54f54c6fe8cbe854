"""How a recording ends: closed, cut off, or still being written; told in a sentence."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from daq.recording.successor import went_on_in
from daq.recording.troubles import counted

if TYPE_CHECKING:
    from daq.recording.intake import Intake

__all__ = ["ending_problem"]


def ending_problem(intake: Intake, path: Path, *, torn_bytes: int, being_written: bool | None) -> str | None:
    """What is to be told of the end, or None for a recording that was closed properly.

    Args:
        intake: the recording as taken in.
        path: its file; the files beside it are looked at where it was cut off.
        torn_bytes: bytes after its last whole line.
        being_written: whether a writer still has it.
    """
    is_are = "is" if torn_bytes == 1 else "are"
    torn = f"{counted(torn_bytes, 'byte')} of an unfinished line"
    if intake.close is not None:
        return f"{torn} after the closing line {is_are} left out." if torn_bytes else None
    last = f"line {intake.lines}, at {intake.last_t_ns / 1e9:.3f} s{_utc(intake)}"
    if being_written:
        return f"The recording is still being written; it was read up to {last}."
    torn = f"; {torn} {is_are} left out" if torn_bytes else ""
    return (
        f"The recording was cut off: it has no closing line. Its last whole line is {last}{torn}. "
        f"What came after that is {_where(intake, path)}."
    )


def _where(intake: Intake, path: Path) -> str:
    found = None if intake.session is None else went_on_in(path, intake.session)
    if found is None:
        return "missing"
    return f"in {found.name}: something else had changed or replaced {path.name} during the run"


def _utc(intake: Intake) -> str:
    at = intake.wall_clock.utc(intake.last_t_ns)
    return "" if at is None else f" ({at:%Y-%m-%d %H:%M:%S} UTC)"
