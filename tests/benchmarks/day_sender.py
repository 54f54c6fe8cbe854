"""Four instruments in a process of their own: ``python -m tests.benchmarks.day_sender LINES RATE``.

It prints the names of four pseudo-terminals, begins when it is told a line, and sends that many lines on each at
that many a second. Every hour's worth, and at the end, it prints how many lines went out and how many did not: a
line that a port has no room for waits, and beyond 64 kB of them an instrument drops what is newest, and counts it.
"""

from __future__ import annotations

import os
import pty
import sys
import time
import tty

import numpy as np
from numpy.typing import NDArray

__all__ = ["HOUR", "INSTRUMENTS", "hundredths"]

INSTRUMENTS = 4
HOUR = 36_000
"""Lines of an instrument in an hour of ten a second."""
_BLOCK = 600
_MOST_HELD = 65_536


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
        os.set_blocking(self._ours, False)
        self.name = os.ttyname(self._theirs)
        self.sent = self.lost = 0
        self._held = b""

    def send(self, lines: list[bytes]) -> None:
        """Send these, and first what had no room before."""
        if len(self._held) > _MOST_HELD:
            self.lost += len(lines)
            lines = []
        self.sent += len(lines)
        data = self._held + b"".join(lines)
        try:
            self._held = data[os.write(self._ours, data) :] if data else b""
        except BlockingIOError:
            self._held = data

    @property
    def waiting(self) -> bool:
        """Whether something had no room yet."""
        return bool(self._held)


def _lines_of(block: int) -> list[list[bytes]]:
    """As text: each as an instrument of two decimals writes it, the tach without any."""
    volts, rpm, *others = hundredths(block).tolist()
    rows = [[b"%.2f\r\n" % (value / 100) for value in row] for row in (volts, *others)]
    return [rows[0], [b"%d\r\n" % (value // 100) for value in rpm], *rows[1:]]


def _send(ports: list[_Port], lines: int, rate_hz: float) -> None:
    begun_s, sent, block, texts = time.monotonic(), 0, -1, [[b""]]
    while sent < lines:
        if sent // _BLOCK != block:
            block = sent // _BLOCK
            texts = _lines_of(block)
        due = min(lines, int((time.monotonic() - begun_s) * rate_hz) + 1, (block + 1) * _BLOCK)
        if due > sent:
            for port, own in zip(ports, texts, strict=True):
                port.send(own[sent - block * _BLOCK : due - block * _BLOCK])
            if due // HOUR != sent // HOUR:
                _tell(ports)
            sent = due
        time.sleep(max(0.0, begun_s + sent / rate_hz - time.monotonic()))
    while any(port.waiting for port in ports):
        time.sleep(0.01)
        for port in ports:
            port.send([])
    if lines % HOUR:
        _tell(ports)


def _tell(ports: list[_Port]) -> None:
    print(*(f"{port.sent} {port.lost}" for port in ports), flush=True)


def main() -> None:
    """Wait for the word, send all, and stay until the input ends, for a port that closes is an instrument that goes."""
    lines, rate_hz = int(sys.argv[1]), float(sys.argv[2])
    ports = [_Port() for _ in range(INSTRUMENTS)]
    print(*(port.name for port in ports), flush=True)
    sys.stdin.readline()
    _send(ports, lines, rate_hz)
    sys.stdin.read()


if __name__ == "__main__":
    main()
