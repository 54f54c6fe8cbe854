"""Whether a port is one of a running virtual bench: asked of the system, without touching the port. Linux tells."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from daq.cards.instrument import InstrumentCard

__all__ = ["is_bench_card", "is_bench_port"]

_PROC = Path("/proc")
_BENCH = b"drivers.bench"
_LISTENS = "0A"


def is_bench_card(card: InstrumentCard) -> bool:
    """Whether a card describes an instrument of the virtual bench, whose limits hold for no real one."""
    return card.name.startswith("bench-") and "virtual bench" in card.title


def is_bench_port(address: str) -> bool:
    """Whether a bench that runs on this computer has this port; False also where the system does not tell.

    Args:
        address: a pseudo-terminal, or socket://127.0.0.1:PORT.
    """
    if not sys.platform.startswith("linux"):
        return False
    wanted = _sockets(address) if "://" in address else {os.path.realpath(address)}
    return bool(wanted) and any(wanted & _open_files(process) for process in _benches())


def _benches() -> Iterator[Path]:
    for folder in _PROC.iterdir():
        if folder.name.isdigit():
            with contextlib.suppress(OSError):
                if _BENCH in (folder / "cmdline").read_bytes().split(b"\0"):
                    yield folder


def _open_files(process: Path) -> set[str]:
    found: set[str] = set()
    with contextlib.suppress(OSError):
        for link in (process / "fd").iterdir():
            with contextlib.suppress(OSError):
                found.add(os.readlink(link))
    return found


def _sockets(address: str) -> set[str]:
    """Names of the sockets that listen at a port of this computer, out of /proc/net/tcp."""
    prefix, port = "socket://127.0.0.1:", address.rpartition(":")[2]
    if not address.startswith(prefix) or not port.isdecimal():
        return set()
    place = f"0100007F:{int(port):04X}"
    try:
        rows = [line.split() for line in (_PROC / "net" / "tcp").read_text("ascii").splitlines()[1:]]
    except OSError:
        return set()
    return {f"socket:[{row[9]}]" for row in rows if len(row) > 9 and row[1] == place and row[3] == _LISTENS}
