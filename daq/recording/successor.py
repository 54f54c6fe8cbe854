"""Finds the file in which a run goes on whose recording something else has changed."""

from __future__ import annotations

from pathlib import Path

import msgspec

from daq.recording.entries import SessionEntry
from daq.recording.lines import MAX_LINE_BYTES, LineError, decode_entry
from daq.recording.names import next_name

__all__ = ["successor"]

_LOOKED_AT = 100


def successor(path: Path, session: SessionEntry) -> Path | None:
    """The newest recording of the same session beside it, or None.

    Args:
        path: the recording that was changed.
        session: its first line as it was.
    """
    found, name = None, next_name(path)
    for _ in range(_LOOKED_AT):
        if not name.is_file():
            break
        found = name if _session_of(name) == session else found
        name = next_name(name)
    return found


def _session_of(path: Path) -> object:
    try:
        with path.open("rb") as file:
            return decode_entry(file.readline(MAX_LINE_BYTES))
    except (OSError, LineError, msgspec.MsgspecError, ValueError):
        return None
