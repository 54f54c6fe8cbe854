"""An instrument as a process of its own, which notes when it sent what: ``python -m tests.faults.sender``.

It counts: its n-th line carries the number n, so that a loss, a doubling or a
change of order shows, and the log tells when each line was sent. It prints the
name of its pseudo-terminal and ends with its standard input.
"""

from __future__ import annotations

import argparse
import os
import pty
import select
import struct
import sys
import time
import tty

__all__ = ["RECORD"]

RECORD = struct.Struct("<qq")
"""One entry of the log: the number, and the monotonic time just before it was sent, in nanoseconds."""

_AT_ONCE_S = 0.001
"""Lines that come due within this go out together."""


def main() -> None:
    """Send until standard input ends."""
    parser = argparse.ArgumentParser()
    parser.add_argument("template", help='such as "AC %%d V"')
    parser.add_argument("period_s", type=float)
    parser.add_argument("log")
    arguments = parser.parse_args()
    master, slave = pty.openpty()
    tty.setraw(slave)
    os.set_blocking(master, False)
    print(os.ttyname(slave), flush=True)
    with open(arguments.log, "wb", buffering=0) as log:
        _send(master, arguments.template + "\r\n", arguments.period_s, log.fileno())


def _send(master: int, template: str, period_s: float, log: int) -> None:
    begun_s, sent, held = time.monotonic(), 0, 0
    while True:
        wait_s = max(_AT_ONCE_S, begun_s + (sent + held + 1) * period_s - time.monotonic())
        if select.select([sys.stdin], [], [], wait_s)[0] and not os.read(0, 1):
            return
        # Where the pace is quick, what has come due meanwhile goes out together, as an adapter sends it.
        due = max(1, int((time.monotonic() - begun_s) / period_s) - sent - held)
        lines = "".join([template % number for number in range(sent, sent + due)]).encode()
        t_ns = time.monotonic_ns()
        try:
            _write(master, lines)
        except BlockingIOError:
            held += due  # nobody reads them now; the same numbers go out next time
            continue
        os.write(log, b"".join([RECORD.pack(number, t_ns) for number in range(sent, sent + due)]))
        sent += due


def _write(master: int, lines: bytes) -> None:
    """All or nothing: a terminal that is nearly full takes a part, and the rest waits for room or for the end.

    Raises:
        BlockingIOError: not a byte was taken.
    """
    rest = lines[os.write(master, lines) :]
    while rest and master in select.select([sys.stdin], [master], [])[1]:
        rest = rest[os.write(master, rest) :]


if __name__ == "__main__":
    main()
