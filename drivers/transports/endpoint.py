"""An open port, seen as three calls: read what has come, write what fits, close.

Reading blocks in a thread of its own; writing never blocks, so that it can be
done in the event loop. Which kind is used depends on what pyserial opened:

- a terminal line (POSIX): one blocking ``os.read`` on its descriptor with
  VMIN=0, VTIME=2. It is the cheapest way, and the stamp after it waits for the
  interpreter only once (measured, see DEVELOPERS.md). It wakes every 0.2 s, so
  it can be stopped;
- a TCP socket (POSIX): ``select``, then ``os.read``;
- anything else (Windows, rfc2217://, loop://): pyserial's own read and write.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import sys
import threading
from typing import TYPE_CHECKING, Any, Protocol

from daq.driver_api import TransportDefaults

if TYPE_CHECKING:
    import serial

__all__ = ["READ_WAKES_S", "Endpoint", "open_endpoint"]

READ_WAKES_S = 0.2
"""A read returns at the latest after this time, empty-handed if nothing came."""
_READ_BYTES = 4096
_WRITE_GIVES_UP_S = 1.0


class Endpoint(Protocol):
    """An open port."""

    def read(self) -> bytes:
        """Block until bytes are there or 0.2 s have passed. Raises OSError when the link has ended."""
        ...

    def write_some(self, data: bytes) -> int:
        """Write what fits without blocking, and say how many bytes that was."""
        ...

    def close(self) -> None:
        """Close; called once, in the reading thread."""
        ...


def open_endpoint(address: str, line: TransportDefaults) -> Endpoint:
    """Open a device name or a pyserial URL; raises what pyserial and the system raise."""
    import serial

    port = serial.serial_for_url(
        address,
        do_not_open=True,
        baudrate=line.baud,
        bytesize=line.bytesize,
        parity=line.parity[0].upper(),
        stopbits=line.stopbits,
        timeout=READ_WAKES_S,
        # Reached on Windows alone, where pyserial's write waits; a network port knows no such limit.
        write_timeout=None if "://" in address else _WRITE_GIVES_UP_S,
        # A second run is told that the port is busy; TIOCEXCL would not stop root, a file lock does.
        exclusive=True if os.name == "posix" and "://" not in address else None,
    )
    if line.dtr is not None:
        port.dtr = line.dtr
    if line.rts is not None:
        port.rts = line.rts
    port.open()
    try:
        return _endpoint_for(port)
    except BaseException:
        port.close()
        raise


def _endpoint_for(port: Any) -> Endpoint:
    if sys.platform != "win32":
        kind = type(port).__module__
        if kind == "serial.serialposix":
            return _TerminalEndpoint(port)
        if kind.endswith("protocol_socket"):
            return _SocketEndpoint(port)
    return _PyserialEndpoint(port)


class _Descriptor:
    """Writing to a descriptor that another thread may be closing."""

    def __init__(self, fd: int) -> None:
        self.fd = fd
        self.lock = threading.Lock()
        self.closed = False

    def write(self, data: bytes) -> int:
        with self.lock:
            if self.closed:
                raise OSError("the port is closed")
            try:
                return os.write(self.fd, data)
            except BlockingIOError:
                return 0


class _TerminalEndpoint:
    def __init__(self, port: serial.Serial) -> None:
        import termios

        self._port = port
        self._out = _Descriptor(port.fileno())
        self._empty_at_once = 0
        settings = termios.tcgetattr(self._out.fd)
        settings[6][termios.VMIN] = 0
        settings[6][termios.VTIME] = round(READ_WAKES_S * 10)
        termios.tcsetattr(self._out.fd, termios.TCSANOW, settings)
        os.set_blocking(self._out.fd, True)

    def read(self) -> bytes:
        fd = self._out.fd
        try:
            data = os.read(fd, _READ_BYTES)
        except BlockingIOError:
            # A write has the descriptor in non-blocking mode for a moment.
            select.select([fd], [], [], READ_WAKES_S)
            return b""
        if data:
            self._empty_at_once = 0
        else:
            self._check_hangup()
        return data

    def _check_hangup(self) -> None:
        """An unplugged line reads as empty at once and for ever, where a quiet one waits out VTIME."""
        import termios

        termios.tcgetattr(self._out.fd)
        readable, _, _ = select.select([self._out.fd], [], [], 0)
        self._empty_at_once = self._empty_at_once + 1 if readable else 0
        if self._empty_at_once >= 3:
            raise OSError("the line was hung up")

    def write_some(self, data: bytes) -> int:
        fd = self._out.fd
        with contextlib.suppress(OSError):
            os.set_blocking(fd, False)
        try:
            return self._out.write(data)
        finally:
            with contextlib.suppress(OSError):
                os.set_blocking(fd, True)

    def close(self) -> None:
        with self._out.lock:
            self._out.closed = True
            self._port.close()


class _SocketEndpoint:
    def __init__(self, port: Any) -> None:
        self._port = port
        self._out = _Descriptor(port.fileno())

    def read(self) -> bytes:
        readable, _, _ = select.select([self._out.fd], [], [], READ_WAKES_S)
        if not readable:
            return b""
        try:
            data = os.read(self._out.fd, _READ_BYTES)
        except BlockingIOError:
            return b""
        if not data:
            raise OSError("the other side closed the connection")
        return data

    def write_some(self, data: bytes) -> int:
        return self._out.write(data)

    def close(self) -> None:
        with self._out.lock:
            self._out.closed = True
            inner = getattr(self._port, "_socket", None)
            if inner is None:
                self._port.close()
                return
            # pyserial's own way leaves the socket open when the peer went first, and sleeps for 0.3 s.
            self._port.is_open = False
            with contextlib.suppress(OSError):
                inner.shutdown(socket.SHUT_RDWR)
            inner.close()


class _PyserialEndpoint:
    """Pyserial's own read and write. Its write waits until the network or the Windows driver has taken all."""

    def __init__(self, port: Any) -> None:
        self._port = port
        self._lock = threading.Lock()
        self._closed = False

    def read(self) -> bytes:
        first: bytes = self._port.read(1)
        if not first:
            return b""
        waiting = self._port.in_waiting
        return first + self._port.read(waiting) if waiting else first

    def write_some(self, data: bytes) -> int:
        with self._lock:
            if self._closed:
                raise OSError("the port is closed")
            written = self._port.write(data)
        return len(data) if written is None else int(written)

    def close(self) -> None:
        with self._lock:
            self._closed = True
            self._port.close()
