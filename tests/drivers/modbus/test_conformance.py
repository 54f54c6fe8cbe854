"""The shared checks for Modbus: its requests have no line end, and differ on a serial line and on TCP."""

from __future__ import annotations

import itertools
import os
import select
import struct
from collections.abc import Awaitable, Callable

import msgspec
import pytest

from drivers.frame.checks import crc16_modbus
from drivers.modbus import DRIVER
from tests.drivers.conformance import CHECKS, loses_no_reading_when_cancelled
from tests.drivers.peers import Behaviour, Peer, PtyPeer, TcpPeer

CARD = DRIVER.cards()[0]
PATIENT = msgspec.structs.replace(CARD, settings={**CARD.settings, "timeout_s": 3.0})
"""An answer that a busy machine makes a second late is no loss to it."""
_ANSWERED = itertools.count()


def _body() -> bytes:
    """19.625 V and an eighth more each time, then 180 as a second number."""
    return b"\1\4\x08" + struct.pack(">ff", 19.625 + next(_ANSWERED) / 8, 180.0)


def _rtu(request: bytes) -> bytes:
    body = _body()
    return body + crc16_modbus(body).to_bytes(2, "little") if request[:2] == b"\1\4" else b""


def _tcp(request: bytes) -> bytes:
    return request[:2] + b"\0\0\0\x0b" + _body() if request[6:8] == b"\1\4" else b""


def _spoil_rtu(answer: bytes) -> bytes:
    return answer[:-1] + bytes([answer[-1] ^ 0x10])


def _spoil_tcp(answer: bytes) -> bytes:
    """As many bytes of registers as no one asked for, by its own count."""
    return answer[:8] + b"\x06" + answer[9:]


class _Unsplit(Peer):
    """Takes what comes together for one request."""

    def _turn(self, fd: int) -> None:
        if self._behaviour.answer is None:
            super()._turn(fd)
        elif select.select([fd], [], [], self._behaviour.period_s)[0]:
            request = os.read(fd, 4096)
            if request:
                os.write(fd, self._behaviour.answer(request))
            else:
                self._left()


class _RtuPeer(_Unsplit, PtyPeer):
    pass


class _TcpPeer(_Unsplit, TcpPeer):
    pass


@pytest.mark.parametrize(
    ("kind", "answer", "spoil"),
    [(_RtuPeer, _rtu, _spoil_rtu), (_TcpPeer, _tcp, _spoil_tcp)],
    ids=["rtu", "tcp"],
)
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
async def test_conformance(
    check: Callable[..., Awaitable[None]],
    kind: Callable[[Behaviour], Peer],
    answer: Callable[[bytes], bytes],
    spoil: Callable[[bytes], bytes],
) -> None:
    card = PATIENT if check is loses_no_reading_when_cancelled else CARD
    await check(DRIVER, card, Behaviour(answer=answer, step=0.125, spoil=spoil), kind)
