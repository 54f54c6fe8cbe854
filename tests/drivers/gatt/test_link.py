"""The BLE link over the real, unmodified bleak, against an imitation of BlueZ on a private bus; not a radio."""

from __future__ import annotations

import asyncio

import pytest

from daq.driver_api import SystemClock, TransportError, TransportReason
from drivers.transports.ble import BleLink
from tests.drivers.gatt.devices import SPEED_UUID, TACH, tach
from tests.drivers.gatt.rig import Rig


def link_to(address: str, *, silence_s: float = 2.0, **settings: float) -> BleLink:
    return BleLink(f"ble:{address}", SystemClock(), silence_s=silence_s, find_s=2.0, connect_s=2.0)


async def test_notifications_arrive_without_loss_and_in_order(bluez: Rig) -> None:
    await bluez.device(tach(rate=50.0))
    link = link_to(TACH)
    offers = await link.open()
    assert [offer.uuid for offer in offers] == [SPEED_UUID]
    await link.subscribe(offers[0], 0)
    got: list[int] = []
    while len(got) < 100:
        got += [int.from_bytes(packet.data, "little") for packet in await link.receive()]
    assert got == list(range(len(got)))
    await link.aclose()
