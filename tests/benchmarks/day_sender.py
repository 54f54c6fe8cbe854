"""Four instruments in a process of their own: ``python -m tests.benchmarks.day_sender FIRST LINES PACE``, see
``pace``.

It prints the names of four pseudo-terminals and sends ten lines a second of the session on each, from its time 0 on,
so many in all, of a day's values from the given one on. At the end it prints how many went out on each, and how many
did not: what is not read waits, and beyond 1 MB of it an instrument drops what is newest, and counts it.

A line that comes in two halves with half a second of the session between them is spoilt, and by right; but that may
be 2.5 ms of the computer's. So all lines have eight bytes, and a port is given whole ones and only what it has room
for: its ring of 4096 bytes, at whose end a read stops, then never ends in the middle of one.
"""

from __future__ import annotations

import os
import pty
import sys
import time
import tty

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.pace import Pace
from tests.faults.port import unread_bytes

__all__ = ["INSTRUMENTS", "PER_S", "hundredths"]

INSTRUMENTS = 4
PER_S = 10
_TICK_NS = 1_000_000_000 // PER_S
_BLOCK = 600
_MOST_HELD = 1_000_000
_MOST_UNREAD = 2048
_AT_ONCE = 1024


def hundredths(block: int) -> NDArray[np.int64]:
    """A minute of values in hundredths: AC volts, rpm, DC volts, amperes; the same whenever it is asked for.

    Returns:
        Four rows of 600 values.
    """
    rng = np.random.default_rng([1, block])
    tick = np.arange(block * _BLOCK, (block + 1) * _BLOCK)
    speed_rpm = np.rint(3300.0 + 300.0 * np.sin(tick / 300.0))
    volts = speed_rpm * 24 / 3600 + rng.normal(0, 0.01, _BLOCK)
    rows = (volts, speed_rpm, 14.2 + rng.normal(0, 0.02, _BLOCK), 3.1 + rng.normal(0, 0.05, _BLOCK))
    values: NDArray[np.int64] = np.rint(100 * np.stack(rows)).astype(np.int64)
    return values


class _Port:
    """One instrument's pseudo-terminal."""

    def __init__(self) -> None:
        self._ours, self._theirs = pty.openpty()
        tty.setraw(self._theirs)
        self.name = os.ttyname(self._theirs)
        self.sent = self.lost = 0
        self._held = b""

    def send(self, lines: list[bytes]) -> None:
        """Send these, and first what had no room before."""
        if len(self._held) > _MOST_HELD:
            self.lost += len(lines)
            lines = []
        self.sent += len(lines)
        self._held += b"".join(lines)
        if self._held and unread_bytes(self._theirs) < _MOST_UNREAD:
            whole = self._held[: self._held.rfind(b"\n", 0, _AT_ONCE) + 1]
            self._held = self._held[os.write(self._ours, whole) :]

    @property
    def waiting(self) -> bool:
        """Whether something had no room yet."""
        return bool(self._held)


def _lines_of(block: int) -> list[list[bytes]]:
    """As text, in eight bytes: each as an instrument of two decimals writes it, the tach without any."""
    volts, rpm, *others = hundredths(block).tolist()
    rows = [[b"%6.2f\r\n" % (value / 100) for value in row] for row in (volts, *others)]
    return [rows[0], [b"%6d\r\n" % (value // 100) for value in rpm], *rows[1:]]


def _send(ports: list[_Port], first: int, lines: int, pace: Pace) -> None:
    sent, block, texts = 0, -1, [[b""]]
    while sent < lines:
        if (first + sent) // _BLOCK != block:
            block = (first + sent) // _BLOCK
            texts = _lines_of(block)
        begin = block * _BLOCK - first
        session_ns = pace.session_ns(time.monotonic_ns())
        due = min(lines, session_ns // _TICK_NS + 1, begin + _BLOCK)
        if due > sent:
            for port, own in zip(ports, texts, strict=True):
                port.send(own[sent - begin : due - begin])
            sent = due
        wait_s = (sent * _TICK_NS - session_ns) / 1e9 / pace.times_at(session_ns)
        time.sleep(max(0.0, min(wait_s, 0.1)))
    while any(port.waiting for port in ports):
        time.sleep(0.01)
        for port in ports:
            port.send([])


def main() -> None:
    """Send all, and stay until the input ends, for a port that closes is an instrument that goes."""
    ports = [_Port() for _ in range(INSTRUMENTS)]
    print(*(port.name for port in ports), flush=True)
    _send(ports, int(sys.argv[1]), int(sys.argv[2]), Pace.from_words(sys.argv[3:]))
    print(*(f"{port.sent} {port.lost}" for port in ports), flush=True)
    sys.stdin.read()


if __name__ == "__main__":
    main()
