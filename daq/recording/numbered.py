"""A recording under a name that the program chose: where it is taken, under the next free one."""

from __future__ import annotations

import os
from pathlib import Path

from daq.errors import OutputError
from daq.recording.entries import SessionEntry
from daq.recording.names import MOST_TRIES, next_name
from daq.recording.writer import RecordingWriter

__all__ = ["create_numbered", "next_name"]


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
    for _ in range(MOST_TRIES):
        try:
            return RecordingWriter.create(path, session, force=False)
        except OutputError:
            if not os.path.lexists(path):
                raise
            path = next_name(path)
    raise OutputError(
        f"{path.name} and the {MOST_TRIES} names before it are taken; choose a name with --out."
    )
