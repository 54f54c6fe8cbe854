"""The least that a reader can do, in a process of its own: ``python -m tests.faults.bare PORT LOG``.

It stamps each line and keeps the stamps: what the machine itself adds, to hold ours against.
It ends with its standard input.
"""

from __future__ import annotations

import os
import select
import sys
import time

from tests.faults.sender import RECORD


def main() -> None:
    """Read until standard input ends."""
    port = os.open(sys.argv[1], os.O_RDONLY | os.O_NOCTTY)
    held = b""
    with open(sys.argv[2], "wb", buffering=0) as log:
        while True:
            ready, _, _ = select.select([port, sys.stdin], [], [])
            if port not in ready:
                return
            data = os.read(port, 4096)
            t_ns = time.monotonic_ns()
            *lines, held = (held + data).split(b"\n")
            for line in lines:
                log.write(RECORD.pack(int(line.split()[1]), t_ns))


if __name__ == "__main__":
    main()
