"""Begins and reads a job file; what can't be understood is named and kept."""

from __future__ import annotations

import os
from collections.abc import Sequence
from io import BufferedReader, BytesIO
from pathlib import Path

import msgspec

from daq.errors import JobError
from daq.job.file.entries import JOB_VERSION, JobEntry, JobLine
from daq.job.file.troubles import Fault, FileTrouble, LineTroubles
from daq.ordinary import NotOrdinaryError, open_ordinary
from daq.output import replacing

__all__ = ["Journal", "create_journal", "encoded", "read_journal"]

_MOST_BYTES = 64 * 1024 * 1024
_MOST_LINE_BYTES = 1024 * 1024
_LEAST_LINE_BYTES = len('{"entry":"note","utc":"","text":""}')
"""No line that says something is shorter, end and all; a file full of such junk is gone through quickly."""
_LINE_END = ord("\n")
_UNREADABLE = "unreadable"


class Journal(msgspec.Struct, frozen=True):
    """A job file as it was read."""

    path: Path
    lines: tuple[tuple[int, JobLine], ...]
    """Line number and what stands there; the first is the job's own."""
    troubles: tuple[FileTrouble, ...]
    """What could not be taken; one for each kind."""

    @property
    def head(self) -> JobEntry:
        """The first line."""
        first = self.lines[0][1]
        if not isinstance(first, JobEntry):
            raise TypeError("a journal begins with its job line")
        return first


class _Probe(msgspec.Struct):
    entry: str
    version: int


def create_journal(path: str | os.PathLike[str], lines: Sequence[JobLine], *, force: bool = False) -> None:
    """Write a new job file; it appears whole or not at all.

    Raises:
        OutputError: it exists and ``force`` is not given, or it can't be written.
    """
    with replacing(path, force=force) as draft:
        draft.write_bytes(encoded(lines))


def encoded(lines: Sequence[JobLine]) -> bytes:
    """Lines as they stand in the file, each with its end."""
    encoder = msgspec.json.Encoder()
    return b"".join(encoder.encode(line) + b"\n" for line in lines)


def read_journal(path: str | os.PathLike[str]) -> Journal:
    """Read a job file.

    Raises:
        JobError: it can't be opened, is no job file, or is of a newer version.
    """
    target = Path(path)
    lines: list[tuple[int, JobLine]] = []
    troubles, junk = LineTroubles(target.name), 0
    junk_met = False
    for number, line in enumerate(BytesIO(_read(target)), start=1):
        if junk_met and len(line) <= _LEAST_LINE_BYTES and line[-1] == _LINE_END:
            junk += not line.isspace()
        elif number == 1:
            lines.append((1, _head(line.removesuffix(b"\n"), target)))
        elif line[-1] != _LINE_END:
            troubles.add(number, Fault("cut off", "was cut off while it was written"))
        elif not line.isspace():
            _take(number, line[:-1], lines, troubles)
            junk_met = _UNREADABLE in troubles
    troubles.more(_UNREADABLE, junk)
    return Journal(target, tuple(lines), troubles.found())


def _take(number: int, line: bytes, lines: list[tuple[int, JobLine]], troubles: LineTroubles) -> None:
    """Keep what stands in a line, or tell what is wrong with it."""
    found = _decode(line)
    if isinstance(found, Fault):
        troubles.add(number, found)
    elif isinstance(found, JobEntry):
        troubles.add(number, Fault("second job", "begins a second job"), "left aside")
    else:
        lines.append((number, found))


def _read(path: Path) -> bytes:
    try:
        with BufferedReader(open_ordinary(path)) as file:
            size = os.fstat(file.fileno()).st_size
            if size > _MOST_BYTES:
                raise JobError(f"{path.name} is larger than 64 MiB: that is no job file.")
            data = file.read(size)
    except FileNotFoundError as error:
        raise JobError(
            f"There is no job file {path.name}; `spinvolt job start {path.name}` begins one."
        ) from error
    except (NotOrdinaryError, IsADirectoryError) as error:
        raise JobError(f"{path.name} is no ordinary file and can't be a job file.") from error
    except OSError as error:
        raise JobError(f"Job file {path.name} can't be read: {error.strerror or error}.") from error
    if not data or data.isspace():
        raise JobError(f"{path.name} is empty: it is no job file.")
    return data


def _head(line: bytes, path: Path) -> JobEntry:
    try:
        probe = msgspec.json.decode(line, type=_Probe)
        if probe.entry != "job":
            raise ValueError(probe.entry)
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        raise JobError(f"{path.name} is no job file: its first line is not that of a job.") from error
    if probe.version > JOB_VERSION:
        raise JobError(
            f"{path.name} has format version {probe.version}; this spinvolt reads up to version {JOB_VERSION}. "
            "Update spinvolt to read it."
        )
    found = _decode(line)
    if not isinstance(found, JobEntry) or probe.version < 1:
        raise JobError(f"{path.name} can't be read: its first line is damaged.")
    return found


def _decode(line: bytes) -> JobLine | Fault:
    """What stands in a line, or why it can't be told."""
    if len(line) > _MOST_LINE_BYTES:
        return Fault("too long", "is longer than 1 MiB")
    try:
        found: JobLine = msgspec.json.decode(line, type=JobLine)
        return found
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        return Fault(_UNREADABLE, f"can't be understood ({error})")
