"""An instrument that sends a line of text for each reading, on TCP, as a process of its own.

Written from nothing of this project: lines of ASCII that end with CR LF (RFC 854's network line end),
a decimal number (NR2 of IEEE 488.2) and the unit's symbol (SI brochure) or its English word.

``python line_server.py --template "AC {:.2f} V" [--pause S] [--junk-every N] [--drop-after N]`` prints
its port. The n-th reading over all connections, from 1, is ``--base`` + n * ``--step``.
"""

from __future__ import annotations

import argparse
import socket
import time

JUNK = bytes([0x00, 0xFF, 0x1B]) + b"garbled 12#%3" + bytes([0x80])


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--template", default="{:.2f}")
    parser.add_argument("--base", type=float, default=10.0)
    parser.add_argument("--step", type=float, default=0.01)
    parser.add_argument("--pause", type=float, default=0.02)
    parser.add_argument("--junk-every", type=int, default=0)
    parser.add_argument("--drop-after", type=int, default=0)
    options = parser.parse_args()
    sent = 0
    with socket.create_server(("127.0.0.1", 0)) as listener:
        print(listener.getsockname()[1], flush=True)
        while True:
            connection, _ = listener.accept()
            with connection:
                sent = serve(connection, options, sent)


def serve(connection: socket.socket, options: argparse.Namespace, sent: int) -> int:
    first = sent
    while not (options.drop_after and sent - first >= options.drop_after):
        time.sleep(options.pause)
        sent += 1
        line = options.template.format(options.base + sent * options.step).encode("ascii") + b"\r\n"
        if options.junk_every and sent % options.junk_every == 0:
            line = JUNK + b"\r\n" + line
        try:
            # In two pieces, as a slow line delivers it.
            connection.sendall(line[:3])
            time.sleep(0.002)
            connection.sendall(line[3:])
        except OSError:
            break
    return sent


if __name__ == "__main__":
    main()
