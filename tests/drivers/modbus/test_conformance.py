"""The shared checks for Modbus: its requests have no line end, and differ on a serial line and on TCP."""

from __future__ import annotations

import os
import select
from collections.abc import Awaitable, Callable

import pytest

from drivers.frame.checks import crc16_modbus
from drivers.modbus import DRIVER
from tests.drivers.conformance import CHECKS
from tests.drivers.peers import Behaviour, Peer, PtyPeer, TcpPeer

CARD = DRIVER.cards()[0]
BODY = bytes.fromhex("01 04 08 41 9C F5 C3 43 34 00 00")


def _rtu(request: bytes) -> bytes:
    return BODY + crc16_modbus(BODY).to_bytes(2, "little") if request[:2] == b"\1\4" else b""


def _tcp(request: bytes) -> bytes:
    return request[:2] + b"\0\0\0\x0b" + BODY if request[6:8] == b"\1\4" else b""


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


@pytest.mark.parametrize(("kind", "answer"), [(_RtuPeer, _rtu), (_TcpPeer, _tcp)], ids=["rtu", "tcp"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
async def test_conformance(
    check: Callable[..., Awaitable[None]],
    kind: Callable[[Behaviour], Peer],
    answer: Callable[[bytes], bytes],
) -> None:
    await check(DRIVER, CARD, Behaviour(answer=answer), kind)
