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
        wait_s = max(0.0, begun_s + (sent + held + 1) * period_s - time.monotonic())
        if select.select([sys.stdin], [], [], wait_s)[0] and not os.read(0, 1):
            return
        try:
            t_ns = time.monotonic_ns()
            os.write(master, (template % sent).encode())
        except BlockingIOError:
            held += 1  # nobody reads the line now; the same number goes out next time
            continue
        os.write(log, RECORD.pack(sent, t_ns))
        sent += 1


if __name__ == "__main__":
    main()
