"""Drafts: files that are still being written, under a name that tells of which file and by whom."""

from __future__ import annotations

import contextlib
import os
import platform
import re
import secrets
import sys
import zlib
from pathlib import Path

__all__ = ["clear_stale", "draft_of"]

_NAME_BYTES = 180
"""So much of the file's own name stands in its draft's: a name may have 255 bytes in most file systems."""
_REST = re.compile(r"([0-9a-f]{8})-([0-9]{1,10})-[0-9a-f]{8}\.part")


def draft_of(target: Path) -> Path:
    """A name for a draft of the file, in its folder and hidden there; no other writer has the same."""
    return target.with_name(f"{_start(target)}{_place()}-{os.getpid()}-{secrets.token_hex(4)}.part")


def clear_stale(target: Path) -> None:
    """Remove drafts of the file that were left by writers who were killed.

    A draft belongs to a process of one computer: while that process is there, and elsewhere, it stays.
    """
    start, place = _start(target), _place()
    with contextlib.suppress(OSError), os.scandir(target.parent) as entries:
        for entry in entries:
            rest = _REST.fullmatch(entry.name, len(start)) if entry.name.startswith(start) else None
            if rest is not None and rest[1] == place and not _alive(int(rest[2])):
                with contextlib.suppress(OSError):
                    os.unlink(entry.path)


def _start(target: Path) -> str:
    return f".{os.fsdecode(os.fsencode(target.name)[:_NAME_BYTES])}."


def _place() -> str:
    """Where process numbers are these: the computer, and on it the container."""
    space = 0
    with contextlib.suppress(OSError):
        space = os.stat("/proc/self/ns/pid").st_ino
    return f"{zlib.crc32(f'{platform.node()} {space}'.encode()):08x}"


def _alive(number: int) -> bool:
    if sys.platform == "win32":
        return True  # asking there would end it
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True
