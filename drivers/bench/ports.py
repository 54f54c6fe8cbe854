"""Ports that others open: a pseudo-terminal where there are such things, a TCP port elsewhere."""

from __future__ import annotations

import contextlib
import os
import socket
from typing import Protocol

__all__ = ["Port", "TcpPort", "have_ptys", "open_port"]

_MOST_UNREAD = 256
"""Bytes that may lie unread before a real serial port would overrun; then they are thrown away."""


class Port(Protocol):
    """One instrument's end of a line. Nothing here ever blocks."""

    address: str

    def read(self) -> bytes:
        """What has come; empty when there is nothing."""
        ...

    def write(self, data: bytes) -> None:
        """Send; what nobody takes is lost, as on a serial line."""
        ...

    def close(self) -> None:
        """Let go of it; may be called twice."""
        ...


def have_ptys() -> bool:
    """Whether this computer has pseudo-terminals."""
    return hasattr(os, "openpty")


def open_port(*, tcp: bool) -> Port:
    """A new port, on TCP where asked for or where there are no pseudo-terminals."""
    if tcp or not have_ptys():
        return TcpPort()
    from .pty_port import PtyPort

    return PtyPort(_MOST_UNREAD)


class TcpPort:
    """A TCP port on this computer alone, one caller at a time; a new caller takes over."""

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.setblocking(False)
        self._caller: socket.socket | None = None
        self.address = f"socket://127.0.0.1:{self._listener.getsockname()[1]}"

    def read(self) -> bytes:
        self._answer_call()
        if self._caller is None:
            return b""
        try:
            data = self._caller.recv(4096)
        except BlockingIOError:
            return b""
        except OSError:
            data = b""
        if not data:
            self._hang_up()
        return data

    def write(self, data: bytes) -> None:
        if self._caller is None:
            return
        try:
            self._caller.send(data)
        except BlockingIOError:
            return
        except OSError:
            self._hang_up()

    def close(self) -> None:
        self._hang_up()
        self._listener.close()

    def _answer_call(self) -> None:
        with contextlib.suppress(OSError):
            caller, _ = self._listener.accept()
            self._hang_up()
            caller.setblocking(False)
            caller.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._caller = caller

    def _hang_up(self) -> None:
        if self._caller is not None:
            self._caller.close()
            self._caller = None
