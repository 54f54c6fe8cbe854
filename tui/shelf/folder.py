"""Which recordings a folder holds, by their names, their dates and the moment their first line tells."""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

import msgspec

from daq.ordinary import open_ordinary
from daq.recording.entries import SessionEntry
from daq.recording.wall_clock import date_of

__all__ = ["Found", "list_folder"]

SUFFIX = ".jsonl"
_HEAD_BYTES = 1024


class Found(NamedTuple):
    """A file that may be a recording."""

    path: Path
    modified_ns: int
    size_bytes: int


def list_folder(folder: Path) -> list[Found]:
    """The recordings in a folder, the newest run first; none where there is no such folder.

    Where no first line tells when a run was, the date of its file stands for it.

    Raises:
        OSError: the folder can't be read.
    """
    found: list[Found] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.endswith(SUFFIX) and not entry.name.startswith("."):
                    found += _found(entry)
    except FileNotFoundError:
        return []
    return sorted(found, key=lambda one: (-_begun_s(one), one.path.name))


def _found(entry: os.DirEntry[str]) -> list[Found]:
    try:
        if not entry.is_file():
            return []
        state = entry.stat()
    except OSError:
        # Such as a link that leads to itself: a row that says so, and no reason to hide the others.
        return [Found(Path(entry.path), 0, 0)]
    return [Found(Path(entry.path), state.st_mtime_ns, state.st_size)]


class _Head(msgspec.Struct):
    started_utc: str
    source: str


def _begun_s(found: Found) -> float:
    """When the run was, seconds since 1970."""
    begun = None
    try:
        with open_ordinary(found.path) as file:
            head = msgspec.json.decode((file.read(_HEAD_BYTES) or b"").partition(b"\n")[0], type=_Head)
        begun = date_of(SessionEntry(program="", started_utc=head.started_utc, source=head.source))
    except (OSError, ValueError, RecursionError, msgspec.MsgspecError):
        pass
    return begun.timestamp() if begun is not None else found.modified_ns * 1e-9
