"""The first line of a recording: is it one, and may this version read it?"""

from __future__ import annotations

import codecs
from datetime import datetime
from pathlib import Path

import msgspec

from daq.errors import RecordingError
from daq.ordinary import NotOrdinaryError, open_ordinary
from daq.recording.entries import FORMAT_VERSION, TICK_NS, SessionEntry
from daq.recording.lines import MAX_LINE_BYTES, LineError, decode_entry
from daq.recording.successor import successor_by_event
from daq.recording.wall_clock import moment_of

__all__ = ["check_first_line", "no_whole_line", "open_error", "utc_of"]


_START = '{"entry":"session"'
_MARKS = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


class _Probe(msgspec.Struct):
    entry: str
    version: int


def check_first_line(head: bytes, path: Path) -> int | None:
    """Check that the first line says that this is a recording which can be read.

    Args:
        head: the file's first bytes.
        path: for the sentence.

    Returns:
        Nanoseconds in one unit of a reading's time, by its format version; None while
        the line is not yet whole and may still become one.

    Raises:
        RecordingError: it is no recording, or one of a newer version.
    """
    line, newline, _ = head.partition(b"\n")
    if not newline:
        if len(line) > MAX_LINE_BYTES or not _START.encode().startswith(line[: len(_START)]):
            raise _not_one(path, line)
        return None
    try:
        probe = msgspec.json.decode(line, type=_Probe)
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        raise _not_one(path, line) from error
    if probe.entry != "session":
        raise _not_one(path, line)
    if probe.version > FORMAT_VERSION:
        raise RecordingError(
            f"{path.name} has format version {probe.version}; this spinvolt reads up to version "
            f"{FORMAT_VERSION}. Update spinvolt to read it."
        )
    _check_session(line, probe.version, path)
    return TICK_NS[probe.version]


def _check_session(line: bytes, version: int, path: Path) -> None:
    try:
        session = decode_entry(line)
    except LineError as error:
        raise RecordingError(f"{path.name} can't be read: its first line is damaged ({error}).") from error
    if version < 1 or not isinstance(session, SessionEntry) or utc_of(session) is None:
        raise RecordingError(
            f"{path.name} can't be read: its first line gives no version or no start time that can be right."
        )


def no_whole_line(path: Path, size: int) -> RecordingError:
    """The sentence for a recording whose first line is not there or not whole."""
    if size == 0:
        try:
            open_ordinary(path).close()
        except NotOrdinaryError:
            return RecordingError(f"{path.name} is no ordinary file and can't be a recording.")
        except OSError:
            pass  # it is gone by now; what was opened was empty
        found = successor_by_event(path)
        if found is not None:
            return RecordingError(f"{path.name} was emptied by something else; its run is in {found.name}.")
        return RecordingError(f"{path.name} is empty: nothing was recorded in it.")
    return RecordingError(f"{path.name} was cut off within its first line: no reading is left in it.")


def utc_of(session: SessionEntry) -> datetime | None:
    """When the session started, in UTC; None where the text is no RFC 3339 time of our era."""
    return moment_of(session.started_utc)


def open_error(path: Path, error: OSError) -> RecordingError:
    """The sentence for a recording that can't be opened."""
    if isinstance(error, FileNotFoundError):
        where = "this folder" if str(path.parent) == "." else f"{path.parent}"
        return RecordingError(f"There is no recording {path.name} in {where}.")
    if isinstance(error, IsADirectoryError):
        return RecordingError(f"{path.name} is a folder, not a recording.")
    if isinstance(error, PermissionError):
        return RecordingError(f"You may not read {path.name}: permission denied.")
    return RecordingError(f"{path.name} can't be read: {error.strerror or error}.")


def _not_one(path: Path, line: bytes) -> RecordingError:
    encoding = next((name for mark, name in _MARKS.items() if line.startswith(mark)), None)
    if encoding is not None and _START in line.decode(encoding, "replace"):
        return RecordingError(
            f"{path.name} was saved by an editor that put a byte order mark in front; a recording has none. "
            "Take a copy that was not edited, or save it as UTF-8 without a byte order mark."
        )
    return RecordingError(
        f"{path.name} is no spinvolt recording: its first line is not a session line. "
        "CSV logs come in with `spinvolt import`."
    )
