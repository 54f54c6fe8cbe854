"""What a run's processes listen on: nothing, unless it was asked for."""

from __future__ import annotations

import contextlib
import os
import signal
from pathlib import Path

from tests.faults.rig import Figure, counted, wait_until
from tests.faults.terminal import Terminal
from tests.tui.program import start

__all__ = ["figures", "listeners_of_a_demo", "listeners_of_screens", "sockets_listened_on"]

_LISTEN = "0A"
"""State of a listening TCP socket in /proc/net/tcp (Linux kernel, include/net/tcp_states.h)."""

_FIRST_PICTURE_BYTES, _FURTHER_BYTES = 4000, 2000
"""What a terminal has taken when the first picture of a run stands on it, and when it has been drawn again."""


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


def listeners_of_screens(folder: Path) -> dict[str, tuple[int, list[str]]]:
    """The same of a demo shown on a terminal, and of a second screen that watches its run on another."""
    path = folder / "run.jsonl"
    with Terminal(folder, "demo", "--out", str(path)) as demo:
        _wait_for_pictures(demo, "the demo's dashboard", path)
        with Terminal(folder, "watch", str(path)) as watch:
            _wait_for_pictures(watch, "the dashboard that watches", path)
            pids = {"demo": family(demo.process.pid), "watch": family(watch.process.pid)}
            found = {name: (len(each), sockets_listened_on(each)) for name, each in pids.items()}
            _end(watch)
        _end(demo)
    return found


def _wait_for_pictures(screen: Terminal, what: str, path: Path) -> None:
    wait_until(lambda: counted(path, 0) > 5 and screen.read > _FIRST_PICTURE_BYTES, what)
    shown = screen.read
    wait_until(lambda: screen.read > shown + _FURTHER_BYTES, f"{what} goes on")


def _end(screen: Terminal) -> None:
    screen.process.send_signal(signal.SIGTERM)
    screen.process.wait(40)


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
    del long  # each is one look
    count, found = listeners_of_a_demo(folder)
    rows = [_row(f"{count} processes of a demo", found)]
    of_screens = listeners_of_screens(folder)
    rows += [
        _row(f"{count} processes of `{name}` on a terminal", seen)
        for name, (count, seen) in of_screens.items()
    ]
    return rows


def _row(whose: str, found: list[str]) -> Figure:
    return Figure(f"sockets that the {whose} listen on", "none", f"{found or 'none'}", not found)
