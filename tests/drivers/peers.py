"""Instruments for the driver tests: real pseudo-terminals and real TCP sockets, with a thread behind each.

``BEHAVIOURS`` names, for each protocol, a card and how its instrument behaves on such a line.
"""

from __future__ import annotations

import asyncio
import contextlib
import functools
import itertools
import operator
import os
import pty
import select
import socket
import threading
import tty
from collections.abc import Callable
from typing import NamedTuple, Self

__all__ = ["BEHAVIOURS", "SILENT", "Behaviour", "Peer", "PtyPeer", "TcpPeer", "text_lines", "until"]


class Behaviour(NamedTuple):
    """What an instrument sends by itself, and what it answers."""

    unasked: Callable[[int], bytes] | None = None
    """The n-th message, sent each ``period_s``."""
    answer: Callable[[bytes], bytes] | None = None
    """To one request line, without its end."""
    period_s: float = 0.01
    step: float = 0.0
    """By how much the value on channel 0 grows from each message or answer to the next."""
    spoil: Callable[[bytes], bytes] | None = None
    """Makes of a message or answer one that is whole in form and yet no reading."""


def text_lines(template: str) -> Behaviour:
    """Lines that count up from 20.0, so that each can be told from the others."""
    return Behaviour(
        unasked=lambda n: (template % (20 + n / 10)).encode(),
        step=0.1,
        spoil=lambda message: message.replace(b".", b"?"),
    )


_MEASURED = itertools.count()


def _scpi_answer(request: bytes) -> bytes:
    if request == b"MEAS:VOLT:AC?":
        return b"%+.8E\n" % (19.62 + next(_MEASURED) / 1000)
    return {
        b"*IDN?": b"NURSERY,BENCH,0,1\n",
        b"SYST:ERR?": b'0,"No error"\n',
        b"FUNC?": b'"VOLT:AC"\n',
        b"VOLT:AC:RANG?": b"+6.0E+01\n",
        b"VOLT:AC:RANG:AUTO?": b"1\n",
    }.get(request, b"")


SILENT = Behaviour()


def _rpm(n: int) -> bytes:
    """As $IIRPM,E,1,2418.2,10.5,A*5F (CHECKS.md W7, NMEA 0183), a tenth of an rpm more each time."""
    body = b"IIRPM,E,1,%.1f,10.5,A" % (2418.2 + n / 10)
    return b"$%s*%02X\r\n" % (body, functools.reduce(operator.xor, body))


def _frame(n: int) -> bytes:
    """As AA 55 00 00 00 8C A0 2B, a tenth of an rpm more each time; the last byte is the sum of the others."""
    body = bytes.fromhex("AA 55 00") + (36_000 + n).to_bytes(4, "big")
    return body + bytes([sum(body) % 256])


BEHAVIOURS: dict[str, tuple[str, Behaviour]] = {
    "counter": (
        "counter-board",
        Behaviour(
            unasked=lambda n: b"%d,%d\r\n" % (n, 16_667 * n),
            step=1.0,
            spoil=lambda message: message.replace(b",", b";"),
        ),
    ),
    "frame": ("frame-speed", Behaviour(_frame, step=0.1, spoil=lambda m: m[:-1] + bytes([m[-1] ^ 0x10]))),
    "nmea": ("nmea-engine", Behaviour(_rpm, step=0.1, spoil=lambda message: message.replace(b",A*", b",V*"))),
    "scpi": (
        "scpi-meter",
        Behaviour(
            answer=_scpi_answer,
            step=0.001,
            spoil=lambda answer: answer.replace(b".", b"?").replace(b"E", b"??"),
        ),
    ),
    "text": ("text-volts", text_lines("AC %.1f V\r\n")),
}


async def until(condition: Callable[[], bool], within_s: float = 30.0) -> None:
    """Wait for what happens in a thread; TimeoutError when it does not."""
    async with asyncio.timeout(within_s):
        while not condition():  # noqa: ASYNC110 - a thread of a peer sets no event of this loop
            await asyncio.sleep(0.005)


class Peer:
    """An instrument at the far end of a line. Use as a context manager."""

    address: str
    serving = False
    """Whether a connection of its own is open for the one client; a terminal line needs none."""

    def __init__(self, behaviour: Behaviour) -> None:
        self._behaviour = behaviour
        self._stop = threading.Event()
        self.received = b""
        self._held = b""
        self._sent = 0
        self._thread = threading.Thread(target=self._work, name="peer", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.unplug()

    def unplug(self) -> None:
        """Pull the plug: the line ends for whoever has it open. May be called twice."""
        self._stop.set()
        self._thread.join(30)
        self._hang_up()

    def _work(self) -> None:
        while not self._stop.is_set():
            fd = self._line()
            if fd is None:
                continue
            with contextlib.suppress(OSError):
                self._turn(fd)

    def _turn(self, fd: int) -> None:
        readable, _, _ = select.select([fd], [], [], self._behaviour.period_s)
        if readable:
            data = os.read(fd, 4096)
            if not data:
                self._left()
            self.received += data
            self._held += data
            *requests, self._held = self._held.split(b"\n")
            if self._behaviour.answer is not None:
                for request in requests:
                    os.write(fd, self._behaviour.answer(request.strip()))
        elif self._behaviour.unasked is not None:
            os.write(fd, self._behaviour.unasked(self._sent))
            self._sent += 1

    def _left(self) -> None:
        """The other side has gone."""

    def _line(self) -> int | None:
        raise AssertionError("each kind of peer has a line of its own")

    def _hang_up(self) -> None:
        raise AssertionError("each kind of peer ends its line in its own way")


class PtyPeer(Peer):
    """An instrument on a pseudo-terminal."""

    def __init__(self, behaviour: Behaviour) -> None:
        super().__init__(behaviour)
        self.master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self.master, False)
        self.address = os.ttyname(self._slave)
        self._up = True

    def write(self, data: bytes) -> None:
        """Send bytes by hand."""
        os.write(self.master, data)

    def _line(self) -> int | None:
        return self.master

    def _hang_up(self) -> None:
        if self._up:
            self._up = False
            os.close(self._slave)
            os.close(self.master)


class TcpPeer(Peer):
    """An instrument behind a device server on TCP."""

    def __init__(self, behaviour: Behaviour, port: int = 0) -> None:
        super().__init__(behaviour)
        self._listener = socket.create_server(("127.0.0.1", port))
        self._listener.settimeout(0.05)
        self._client: socket.socket | None = None
        self.address = f"socket://127.0.0.1:{self._listener.getsockname()[1]}"

    def _line(self) -> int | None:
        if self._client is None:
            with contextlib.suppress(TimeoutError):
                self._client, _ = self._listener.accept()
        return None if self._client is None else self._client.fileno()

    @property
    def serving(self) -> bool:  # type: ignore[override]  # read-only here
        return self._client is not None

    def _left(self) -> None:
        if self._client is not None:
            self._client.close()
            self._client = None

    def _hang_up(self) -> None:
        self._listener.close()
        self._left()
