"""What a run's processes listen on: nothing, unless it was asked for."""

from __future__ import annotations

import contextlib
import os
import signal
from pathlib import Path

from tests.faults.rig import Figure, wait_until
from tests.tui.program import start

__all__ = ["figures", "listeners_of_a_demo", "sockets_listened_on"]

_LISTEN = "0A"
"""State of a listening TCP socket in /proc/net/tcp (Linux kernel, include/net/tcp_states.h)."""


def sockets_listened_on(pids: list[int]) -> list[str]:
    """Addresses and ports, as the kernel writes them, of TCP and bound UDP sockets that those processes hold."""
    found = []
    for pid in pids:
        held = _open_in(pid)
        for table in ("tcp", "tcp6", "udp", "udp6"):
            for line in Path(f"/proc/{pid}/net/{table}").read_text().splitlines()[1:]:
                fields = line.split()
                counts = fields[3] == _LISTEN if table.startswith("tcp") else True
                if counts and f"socket:[{fields[9]}]" in held:
                    found.append(f"{table} {fields[1]}")
    return found


def listeners_of_a_demo(folder: Path) -> tuple[int, list[str]]:
    """How many processes a demo has, and what they listen on."""
    with start("demo", "--headless", folder=folder) as process:
        recordings = folder / "recordings"
        wait_until(lambda: recordings.is_dir() and any(recordings.iterdir()), "the recording")
        pids = family(process.pid)
        found = sockets_listened_on(pids)
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=30)
    return len(pids), found


def family(pid: int) -> list[int]:
    """A process and all that it started."""
    pids = [pid]
    for one in pids:
        for task in Path(f"/proc/{one}/task").iterdir():
            pids += map(int, (task / "children").read_text().split())
    return pids


def _open_in(pid: int) -> set[str]:
    """What a process has open."""
    held = set()
    for link in Path(f"/proc/{pid}/fd").iterdir():
        with contextlib.suppress(FileNotFoundError):  # closed since it was listed
            held.add(os.readlink(link))
    return held


def figures(folder: Path, *, long: bool) -> list[Figure]:
    """The rows for the table."""
    del long  # it is one look
    count, found = listeners_of_a_demo(folder)
    return [
        Figure(
            f"sockets that the {count} processes of a demo listen on", "none", f"{found or 'none'}", not found
        )
    ]
