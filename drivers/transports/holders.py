"""Who has a port open: asked of the system without touching the port. Linux tells; elsewhere nothing is known."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

__all__ = ["port_holder"]

_PROC = Path("/proc")
_CAPTURE = b"daq.capture"
_PSEUDO_TERMINALS = "/dev/pts/"


def port_holder(address: str) -> str:
    """The program that has a device locked or open, in words; empty where none is known to.

    A lock counts first: only one can have it. A mere open file counts on a real
    port, but not on a pseudo-terminal, whose far side keeps the near one open.
    This process itself is never named.
    """
    if not sys.platform.startswith("linux") or "://" in address:
        return ""
    try:
        device = os.stat(address)
    except (OSError, ValueError):
        return ""
    for holder in _lockers(device):
        return _words(holder)
    if not os.path.realpath(address).startswith(_PSEUDO_TERMINALS):
        for holder in _openers(os.path.realpath(address)):
            return _words(holder)
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


def _openers(path: str) -> Iterator[int]:
    """Processes that have a file open, as far as this user may look."""
    for folder in _PROC.iterdir():
        if not folder.name.isdigit() or int(folder.name) == os.getpid():
            continue
        try:
            opened = [os.readlink(link) for link in (folder / "fd").iterdir()]
        except OSError:
            continue
        if path in opened:
            yield int(folder.name)


def _words(process: int) -> str:
    folder = _PROC / str(process)
    try:
        if _CAPTURE in (folder / "cmdline").read_bytes().split(b"\0"):
            return f"a run of spinvolt (process {process})"
        return f"{(folder / 'comm').read_text('utf-8', 'replace').strip()} (process {process})"
    except OSError:
        return f"process {process}"
