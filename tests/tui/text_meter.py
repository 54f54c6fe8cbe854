"""A meter on the network that says the same line of text ten times a second to whoever connects."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator

__all__ = ["text_meter"]


@contextlib.contextmanager
def text_meter(says: bytes) -> Iterator[str]:
    """Its address, while the block runs."""
    done = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(0.1)
        thread = threading.Thread(target=_serve, args=(listening, says, done))
        thread.start()
        try:
            yield f"socket://127.0.0.1:{listening.getsockname()[1]}"
        finally:
            done.set()
            thread.join()


def _serve(listening: socket.socket, says: bytes, done: threading.Event) -> None:
    while not done.is_set():
        try:
            line, _ = listening.accept()
        except TimeoutError:
            continue
        with line:
            while not done.wait(0.1):
                try:
                    line.sendall(says + b"\r\n")
                except OSError:
                    break
