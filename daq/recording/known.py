"""A recording known again by its digest, which nothing but a recording is worth."""

from __future__ import annotations

from pathlib import Path

import msgspec

from daq.ordinary import digest_of, open_ordinary
from daq.recording.lines import MAX_LINE_BYTES

__all__ = ["NoRecordingError", "begins_as_recording", "recording_digest"]

_START = b'{"entry":"session"'


class NoRecordingError(OSError):
    """What was to be read does not begin as a recording."""


class _Probe(msgspec.Struct):
    entry: str


def begins_as_recording(head: bytes) -> bool:
    """Whether a file's first bytes are those of a recording, of whatever version, and however it goes on."""
    line, newline, _ = head.partition(b"\n")
    if not newline:
        return line.startswith(_START) and len(line) <= MAX_LINE_BYTES
    try:
        return msgspec.json.decode(line, type=_Probe).entry == "session"
    except (msgspec.MsgspecError, ValueError, RecursionError):
        return False


def recording_digest(path: Path, kind: str = "sha256") -> bytes:
    """The digest of a whole recording; what is none is not read any further than its first line.

    Args:
        path: the recording.
        kind: see :mod:`hashlib`.

    Raises:
        NoRecordingError: it does not begin as one.
        NotOrdinaryError: it is no ordinary file.
        OSError: it can't be read.
    """
    with open_ordinary(path) as file:
        if not begins_as_recording(file.read(MAX_LINE_BYTES + 1) or b""):
            raise NoRecordingError(f"{path.name} does not begin as a recording")
        return digest_of(file, kind)
