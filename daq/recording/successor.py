"""Finds the file in which a run goes on whose recording something else has changed."""

from __future__ import annotations

from collections.abc import Callable
from io import BufferedReader
from pathlib import Path

import msgspec

from daq.ordinary import open_ordinary
from daq.recording.entries import EventEntry, SessionEntry
from daq.recording.known import begins_as_recording
from daq.recording.lines import MAX_LINE_BYTES, LineError, decode_entry
from daq.recording.moved import MOVED_ON, moved_from
from daq.recording.names import next_name

__all__ = ["successor", "successor_by_event", "went_on_in"]

_LOOKED_AT = 100
_BLOCK_BYTES = 1024 * 1024


def successor(path: Path, session: SessionEntry) -> Path | None:
    """The newest recording of the same session beside it, or None.

    Args:
        path: the recording that was changed.
        session: its first line as it was.
    """
    return _newest(path, lambda name: _session_of(name) == session)


def successor_by_event(path: Path) -> Path | None:
    """The newest recording beside it that says in an event that it goes on from this file; None where none does.

    Args:
        path: a recording of which nothing is left.
    """
    return _newest(path, lambda name: _says_it_goes_on_from(name, path.name))


def went_on_in(path: Path, session: SessionEntry) -> Path | None:
    """The newest recording of the same session beside it that says that it goes on from this file.

    Args:
        path: a recording that stands there, which nobody writes and nobody closed.
        session: its first line.
    """
    return _newest(path, lambda name: _session_of(name) == session and _says_it_goes_on_from(name, path.name))


def _newest(path: Path, belongs: Callable[[Path], bool]) -> Path | None:
    found, name = None, next_name(path)
    for _ in range(_LOOKED_AT):
        if not name.is_file():
            break
        found = name if belongs(name) else found
        name = next_name(name)
    return found


def _says_it_goes_on_from(recording: Path, name: str) -> bool:
    try:
        with open_ordinary(recording) as file:
            if not begins_as_recording(file.read(MAX_LINE_BYTES + 1) or b""):
                return False
            file.seek(0)
            rest = b""
            while block := file.read(_BLOCK_BYTES):
                lines, newline, rest = (rest + block).rpartition(b"\n")
                if MOVED_ON.encode() in lines and any(_left_by(line) == name for line in lines.split(b"\n")):
                    return True
                rest = rest if newline or len(rest) <= MAX_LINE_BYTES else b""
    except OSError:
        return False
    return False


def _left_by(line: bytes) -> str | None:
    """The file that was left, where the line is the event that tells of it."""
    if MOVED_ON.encode() not in line:
        return None
    try:
        event = decode_entry(line)
    except (LineError, msgspec.MsgspecError, ValueError):
        return None
    return moved_from(event.text) if isinstance(event, EventEntry) else None


def _session_of(path: Path) -> object:
    try:
        with BufferedReader(open_ordinary(path)) as file:
            return decode_entry(file.readline(MAX_LINE_BYTES))
    except (OSError, LineError, msgspec.MsgspecError, ValueError):
        return None
