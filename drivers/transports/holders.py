"""Who has a port open: asked of the system without touching the port. Linux tells; elsewhere nothing is known."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

__all__ = ["open_files", "port_holder"]

_PROC = Path("/proc")
_CAPTURE = b"daq.capture"
_PSEUDO_TERMINALS = "/dev/pts/"


def port_holder(address: str, opened: Mapping[str, int] | None = None) -> str:
    """The program that has a device locked or open, in words; empty where none is known to.

    A lock counts first: only one can have it. A mere open file counts on a real
    port, but not on a pseudo-terminal, whose far side keeps the near one open.
    This process itself is never named. ``opened`` is that of :func:`open_files`,
    for many ports at once.
    """
    if not sys.platform.startswith("linux") or "://" in address:
        return ""
    try:
        device = os.stat(address)
    except (OSError, ValueError):
        return ""
    for holder in _lockers(device):
        return _words(holder)
    path = os.path.realpath(address)
    if not path.startswith(_PSEUDO_TERMINALS):
        opener = (open_files() if opened is None else opened).get(path)
        return "" if opener is None else _words(opener)
    return ""


def _lockers(device: os.stat_result) -> Iterator[int]:
    """Processes with a lock on a file, out of /proc/locks: "1: FLOCK ADVISORY WRITE 1234 00:1a:3 0 EOF"."""
    place = f"{os.major(device.st_dev):02x}:{os.minor(device.st_dev):02x}:{device.st_ino}"
    try:
        lines = (_PROC / "locks").read_text("ascii", "replace").splitlines()
    except OSError:
        return
    for line in lines:
        words = line.split()
        if place in words and "->" not in words:
            holder = words[words.index(place) - 1]
            if holder.isdigit() and int(holder) not in (0, os.getpid()):
                yield int(holder)


def open_files() -> dict[str, int]:
    """Which process has which file open, as far as this user may look; this process itself left out."""
    found: dict[str, int] = {}
    if not sys.platform.startswith("linux"):
        return found
    for folder in _PROC.iterdir():
        if not folder.name.isdigit() or int(folder.name) == os.getpid():
            continue
        with contextlib.suppress(OSError):
            for link in (folder / "fd").iterdir():
                with contextlib.suppress(OSError):
                    found.setdefault(os.readlink(link), int(folder.name))
    return found


def _words(process: int) -> str:
    folder = _PROC / str(process)
    try:
        if _CAPTURE in (folder / "cmdline").read_bytes().split(b"\0"):
            return f"a run of spinvolt (process {process})"
        return f"{(folder / 'comm').read_text('utf-8', 'replace').strip()} (process {process})"
    except OSError:
        return f"process {process}"
