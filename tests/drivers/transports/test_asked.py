"""An instrument that must be asked: cancelling meets arriving bytes at any moment and still ends the wait."""

from __future__ import annotations

import asyncio

import pytest

from daq.driver_api import ChannelCard, Quantity, SystemClock, TransportDefaults
from drivers.scpi.session import ScpiSession
from drivers.scpi.settings import ScpiSettings
from drivers.transports.asked import AskedInstrument
from drivers.transports.link import SerialLink
from tests.drivers.peers import SILENT, PtyPeer
from tests.stopwatch import stopwatch


@pytest.mark.parametrize("turns", range(8))
async def test_a_cancellation_is_never_swallowed(turns: int) -> None:
    clock = SystemClock()
    with PtyPeer(SILENT) as peer:
        link = SerialLink(peer.address, TransportDefaults(), clock)
        session = ScpiSession(ChannelCard(Quantity.AC_VOLTAGE), ScpiSettings(query="MEAS:VOLT:AC?"))
        async with AskedInstrument(link, session, 1, clock) as instrument:
            waiting = asyncio.create_task(instrument.receive())
            await asyncio.sleep(0.02)
            assert link._queue is not None
            link._queue.put(b"NURSERY,", clock.now_ns())  # as its thread does, at a moment of our choice
            for _ in range(turns):
                await asyncio.sleep(0)
            waiting.cancel()
            with stopwatch() as watch:
                await asyncio.wait([waiting], timeout=30)
            assert watch.own_s < 0.3
            assert waiting.done()
            assert waiting.cancelled()
