"""How the tests open links and wait for what comes of them."""

from __future__ import annotations

from collections.abc import Awaitable

import pytest

from daq.driver_api import SystemClock, TransportError
from drivers.transports.ble import BleLink
from drivers.transports.packets import Packet


def link_to(
    address: str,
    *,
    silence_s: float = 5.0,
    adapter: str | None = None,
    most_packets: int = 4096,
    find_s: float = 10.0,
    connect_s: float = 10.0,
) -> BleLink:
    """A link that gives up as late as the program's own; what is there is found at once."""
    return BleLink(
        f"ble:{address}",
        SystemClock(),
        silence_s=silence_s,
        adapter=adapter,
        find_s=find_s,
        connect_s=connect_s,
        most_packets=most_packets,
    )


async def listening(link: BleLink) -> BleLink:
    """Open the link and subscribe to the first characteristic."""
    offers = await link.open()
    await link.subscribe(offers[0], 0)
    return link


async def packets_from(link: BleLink, least: int) -> list[Packet]:
    got: list[Packet] = []
    while len(got) < least:
        got += await link.receive()
    return got


async def failure_of(work: Awaitable[object]) -> TransportError:
    with pytest.raises(TransportError) as caught:
        await work
    return caught.value


async def until_lost(link: BleLink) -> tuple[int, TransportError]:
    """Packets taken until the link ended, and how it ended."""
    taken = 0
    while True:
        try:
            taken += len(await link.receive())
        except TransportError as error:
            return taken, error
