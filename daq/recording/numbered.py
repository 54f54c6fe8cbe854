"""A recording under a name that the program chose: where it is taken, under the next free one."""

from __future__ import annotations

import os
import re
from pathlib import Path

from daq.errors import OutputError
from daq.recording.entries import SessionEntry
from daq.recording.writer import RecordingWriter

__all__ = ["create_numbered", "next_name"]

_NUMBERED = re.compile(r"(.*)-([2-9]|[1-9]\d{1,3})")
_MOST_TRIES = 1000


def next_name(path: Path) -> Path:
    """The name after this one: "run.jsonl", "run-2.jsonl", "run-3.jsonl"."""
    numbered = _NUMBERED.fullmatch(path.stem)
    stem, number = (path.stem, 1) if numbered is None else (numbered[1], int(numbered[2]))
    return path.with_name(f"{stem}-{number + 1}{path.suffix}")


def create_numbered(path: Path, session: SessionEntry, *, force: bool = False) -> RecordingWriter:
    """Create a recording under the first name that is free, from ``path`` on.

    A name counts as free when the file could be made anew (``O_EXCL``), so that two runs
    which begin in the same moment never meet in one file.

    Args:
        path: the name to begin with.
        session: the first line.
        force: of no meaning here; nothing is ever replaced.

    Raises:
        OutputError: it can't be written, or a thousand names are taken.
    """
    for _ in range(_MOST_TRIES):
        try:
            return RecordingWriter.create(path, session, force=False)
        except OutputError:
            if not os.path.lexists(path):
                raise
            path = next_name(path)
    raise OutputError(
        f"{path.name} and the {_MOST_TRIES} names before it are taken; choose a name with --out."
    )
