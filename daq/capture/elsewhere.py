"""Where a capture puts what its disk does not take at the end, and what is said of it."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path

from daq.model.counted import counted

__all__ = ["free_names", "other_folders", "told_of_rest"]

_MOST_FILES = 99
"""In one folder: each holds at least the recording's first lines and one more."""


def other_folders() -> Iterator[Path]:
    """The home folder and the one for temporary files, as far as there are such."""
    with contextlib.suppress(RuntimeError):
        yield Path.home()
    with contextlib.suppress(OSError):  # it is tried out, and may be full too
        yield Path(tempfile.gettempdir())


def free_names(folder: Path, stem: str) -> Iterator[Path]:
    """Names that nobody has there, one after the other."""
    for number in range(1, _MOST_FILES + 1):
        path = folder / (f"{stem}.jsonl" if number == 1 else f"{stem}-{number}.jsonl")
        if not path.exists():
            yield path


def told_of_rest(files: Sequence[Path], saved: int, lost: int) -> str:
    """Where the readings are that the recording did not take, and how many are in no file.

    Args:
        files: that were written, in order.
        saved: readings in them, the oldest.
        lost: the ones after those.
    """
    if not files:
        left = counted(lost, "reading is lost", "readings are lost")
        return f"No other place took the rest either: {left}."
    where = " and ".join(_named(list(group)) for _, group in groupby(files, key=lambda path: path.parent))
    if not saved + lost:
        return f"What it did not take is in {where}."
    if not lost:
        of_all = counted(saved, "reading that it did not take is", "readings that it did not take are")
        return f"The {of_all} in {where}."
    of_all = counted(saved + lost, "reading", "readings")
    first = "the first one is" if saved == 1 else f"the first {saved} are"
    after = counted(lost, "reading after that is lost", "readings after that are lost")
    return f"Of the {of_all} that it did not take {first} in {where}. No place took more: {after}."


def _named(files: Sequence[Path]) -> str:
    if len(files) == 1:
        return str(files[0])
    return f"{files[0]} to {files[-1].name} ({len(files)} files)"
