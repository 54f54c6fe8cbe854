"""Begins and reads a job file; what can't be understood is named and kept."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import msgspec

from daq.errors import JobError
from daq.job.file.entries import JOB_VERSION, JobEntry, JobLine
from daq.output import replacing

__all__ = ["FileTrouble", "Journal", "create_journal", "encoded", "read_journal"]

_MOST_BYTES = 64 * 1024 * 1024
_MOST_LINE_BYTES = 1024 * 1024


class FileTrouble(msgspec.Struct, frozen=True):
    """A line that could not be taken."""

    line: int
    """Counted from 1."""
    text: str


class Journal(msgspec.Struct, frozen=True):
    """A job file as it was read."""

    path: Path
    lines: tuple[tuple[int, JobLine], ...]
    """Line number and what stands there; the first is the job's own."""
    troubles: tuple[FileTrouble, ...]

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
    data = _read(target)
    raw = data.split(b"\n")
    torn = raw.pop() if raw[-1] else b""
    if raw and not raw[-1]:
        raw.pop()
    head = _head(raw[0] if raw else torn, target)
    lines: list[tuple[int, JobLine]] = [(1, head)]
    troubles: list[FileTrouble] = []
    for number, line in enumerate(raw[1:], start=2):
        if not line.strip():
            continue
        found = _decode(line)
        if isinstance(found, str):
            troubles.append(
                FileTrouble(number, f"Line {number} of {target.name} {found} It is kept, not judged.")
            )
        elif isinstance(found, JobEntry):
            troubles.append(
                FileTrouble(number, f"Line {number} of {target.name} begins a second job; it is left aside.")
            )
        else:
            lines.append((number, found))
    if torn and raw:
        number = len(raw) + 1
        troubles.append(
            FileTrouble(number, f"Line {number} of {target.name} was cut off while it was written.")
        )
    return Journal(target, tuple(lines), tuple(troubles))


def _read(path: Path) -> bytes:
    try:
        if not path.is_file() and path.exists():
            raise JobError(f"{path.name} is no ordinary file and can't be a job file.")
        if path.stat().st_size > _MOST_BYTES:
            raise JobError(f"{path.name} is larger than 64 MiB: that is no job file.")
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise JobError(
            f"There is no job file {path.name}; `spinvolt job start {path.name}` begins one."
        ) from error
    except OSError as error:
        raise JobError(f"Job file {path.name} can't be read: {error.strerror or error}.") from error
    if not data.strip():
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


def _decode(line: bytes) -> JobLine | str:
    """What stands in a line, or why it can't be told."""
    if len(line) > _MOST_LINE_BYTES:
        return "is longer than 1 MiB."
    try:
        found: JobLine = msgspec.json.decode(line, type=JobLine)
        return found
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        return f"can't be understood ({error})."
