"""A network serial port after RFC 2217, by pyserial's own server side; what it is sent it sends back."""

from __future__ import annotations

import contextlib
import socket
import threading
from typing import Any, Self

import serial
import serial.rfc2217

__all__ = ["Rfc2217Server"]


class _Connection:
    """What pyserial's port manager writes its negotiation to."""

    def __init__(self, client: socket.socket) -> None:
        self._client = client

    def write(self, data: bytes) -> None:
        self._client.sendall(data)


class Rfc2217Server:
    """Serves one client. Use as a context manager."""

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.settimeout(5)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="rfc2217", daemon=True)
        self.address = f"rfc2217://127.0.0.1:{self._listener.getsockname()[1]}"

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def close(self) -> None:
        """End the connection. May be called twice."""
        self._stop.set()
        self._thread.join(30)
        self._listener.close()

    def _serve(self) -> None:
        client, _ = self._listener.accept()
        client.settimeout(0.02)
        with client, serial.serial_for_url("loop://", timeout=0) as port:
            connection: Any = _Connection(client)  # the stubs ask for far more than it uses
            local: Any = port
            manager = serial.rfc2217.PortManager(local, connection)
            while not self._stop.is_set():
                with contextlib.suppress(TimeoutError):
                    data = client.recv(1024)
                    if not data:
                        return
                    port.write(b"".join(manager.filter(data)))
                back = port.read(port.in_waiting or 1)
                if back:
                    client.sendall(b"".join(manager.escape(back)))
