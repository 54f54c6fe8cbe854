"""Which recordings a folder holds, by their names and dates alone."""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

__all__ = ["Found", "list_folder"]

SUFFIX = ".jsonl"


class Found(NamedTuple):
    """A file that may be a recording."""

    path: Path
    modified_ns: int
    size_bytes: int


def list_folder(folder: Path) -> list[Found]:
    """The recordings in a folder, the one written last first; none where there is no such folder.

    Raises:
        OSError: the folder can't be read.
    """
    found: list[Found] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.endswith(SUFFIX) and not entry.name.startswith(".") and entry.is_file():
                    state = entry.stat()
                    found.append(Found(Path(entry.path), state.st_mtime_ns, state.st_size))
    except FileNotFoundError:
        return []
    return sorted(found, key=lambda one: (-one.modified_ns, one.path.name))
