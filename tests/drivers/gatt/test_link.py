"""The BLE link over the real, unmodified bleak, against an imitation of BlueZ on a private bus; not a radio."""

from __future__ import annotations

import asyncio
import os
import signal
from itertools import pairwise

import pytest

from daq.driver_api import SystemClock, TransportError, TransportReason, UsageError
from drivers.transports.ble import BleLink
from drivers.transports.ble_address import parse_ble_address
from drivers.transports.ble_nearby import nearby_devices
from tests.drivers.gatt.devices import (
    COUNTER,
    CSC_SERVICE_UUID,
    METER,
    SPEED_UUID,
    TACH,
    VOLTS_UUID,
    counter,
    meter,
    tach,
)
from tests.drivers.gatt.links import failure_of, link_to, listening, packets_from, until_lost
from tests.drivers.gatt.rig import Rig
from tests.stopwatch import stopwatch


async def test_notifications_arrive_without_loss_and_in_order(bluez: Rig) -> None:
    """50 a second for 2 s; tests/benchmarks/ble_notify.py is the long form, 30 s."""
    await bluez.device(tach(rate=50.0))
    link = await listening(link_to(TACH))
    got = await packets_from(link, 100)
    # A busy machine may be late with the first or the last of them: a hundred others then take their time.
    while (took_s := (got[-1].t_ns - got[-100].t_ns) / 1e9) != pytest.approx(99 / 50.0, abs=0.2):
        assert len(got) < 1000, f"100 packets at 50 a second take {took_s:.2f} s"
        got += await link.receive()
    await link.aclose()
    assert [int.from_bytes(p.data, "little") for p in got] == list(range(len(got)))
    assert link.packets_lost == 0
    assert all(a.t_ns <= b.t_ns for a, b in pairwise(got))


async def test_stamps_are_taken_in_the_callback_not_by_the_reader(bluez: Rig) -> None:
    await bluez.device(tach(rate=100.0))
    clock = SystemClock()
    link = await listening(link_to(TACH))
    looks = [(0, 0)]
    while link.packets < 30:
        looks.append((link.packets, clock.now_ns()))
        await asyncio.sleep(0.01)
    looks.append((link.packets, clock.now_ns()))
    waiting = await link.receive()
    await link.aclose()
    assert len(waiting) >= 30
    # Each was stamped between two looks at how many had come, and a reader came only after the last look.
    for (seen, after_ns), (came, before_ns) in pairwise(looks):
        assert all(after_ns <= packet.t_ns <= before_ns for packet in waiting[seen:came])
    assert len({came for came, _ in looks}) > 2, "they did not all come at once"


async def test_what_a_device_offers(bluez: Rig) -> None:
    await bluez.device(meter())
    link = link_to(METER)
    (offer,) = await link.open()
    await link.aclose()
    assert offer.uuid == VOLTS_UUID
    assert offer.notifies
    assert link.who == f"Bench meter ({METER})"


async def test_found_by_name(bluez: Rig) -> None:
    await bluez.device(meter())
    await bluez.device(tach())
    link = await listening(link_to("name=Shop tach"))
    assert link.who == f"Shop tach ({TACH})"
    assert await link.receive()
    await link.aclose()


async def test_nearby_devices_with_their_services(bluez: Rig) -> None:
    await bluez.device(counter(rssi=-40))
    await bluez.device(meter(rssi=-70))
    found = await nearby_devices(0.2)
    assert [(d.address, d.name, d.signal_dbm) for d in found] == [
        (COUNTER, "Shaft counter", -40),
        (METER, "Bench meter", -70),
    ]
    assert CSC_SERVICE_UUID in found[0].services


async def test_a_device_that_a_crashed_program_left_connected_is_adopted(bluez: Rig) -> None:
    """It does not advertise, so a scan would never find it."""
    await bluez.device(tach(connected=True))
    link = await listening(link_to(TACH, find_s=3.0))
    assert len(await packets_from(link, 5)) >= 5
    assert await bluez.calls("Connect") == 0
    assert "connected to this computer already" in link.remarks[0]
    await link.aclose()


async def test_a_dropped_link_ends_the_stream_after_what_came_before(bluez: Rig) -> None:
    await bluez.device(tach(rate=100.0))
    link = await listening(link_to(TACH))
    while await bluez.sent(TACH) < 20:  # noqa: ASYNC110 - another process sends them
        await asyncio.sleep(0.02)
    await bluez.drop(TACH)
    taken, error = await until_lost(link)
    assert taken >= 20
    assert taken == link.packets == await bluez.sent(TACH)
    assert error.reason is TransportReason.LINK_LOST
    assert f"Lost Shop tach ({TACH}) after {taken} packets" in str(error)
    assert await failure_of(link.receive()) is error
    await link.aclose()


async def test_connecting_again_subscribes_again(bluez: Rig) -> None:
    await bluez.device(tach(rate=100.0))
    for _ in range(2):
        link = await listening(link_to(TACH))
        await packets_from(link, 5)
        await bluez.drop(TACH)
        await until_lost(link)
        await link.aclose()
    assert await bluez.calls("StartNotify") == 2


async def test_closing_is_no_lost_link_and_may_be_done_twice(bluez: Rig) -> None:
    await bluez.device(tach())
    link = await listening(link_to(TACH))
    await packets_from(link, 1)
    waiting = asyncio.create_task(link.receive())
    with stopwatch() as watch:
        await link.aclose()
        await link.aclose()
    assert watch.own_s < 1.0
    await asyncio.wait({waiting}, timeout=0.2)
    if waiting.done():
        assert await waiting, "closing must not look like a lost link"
    waiting.cancel()
    assert await bluez.calls("Disconnect") == 1


async def test_closing_leaves_no_task_but_bleaks_own(bluez: Rig) -> None:
    """bleak keeps one watcher of the bus for each event loop, whatever was connected."""
    await bluez.device(tach())
    before = asyncio.all_tasks()
    link = await listening(link_to(TACH))
    await link.aclose()
    for _ in range(20):  # turns of the loop, in which what is over ends
        await asyncio.sleep(0.01)
        if len(left := asyncio.all_tasks() - before) == 1:
            break
    names = [task.get_coro().__qualname__ for task in left]  # type: ignore[union-attr]  # a coroutine has a name
    assert names == ["BlueZManager._monitor_bus_disconnect"]


async def test_a_silent_device_is_a_lost_link_although_it_counts_as_connected(bluez: Rig) -> None:
    await bluez.device(tach(rate=50.0))
    link = await listening(link_to(TACH))
    last = (await packets_from(link, 5))[-1]
    await bluez.silence(TACH)
    clock = SystemClock()
    link._silence_s = 0.5  # only now: a machine that stops for a second before is no silence of the device
    with stopwatch() as watch:
        while True:
            try:
                last = (await link.receive())[-1]
            except TransportError as lost:
                error = lost
                break
    assert clock.now_ns() - last.t_ns >= 500_000_000
    assert watch.own_s < 0.9
    assert error.reason is TransportReason.LINK_LOST
    assert "for 0.5 s, though it still counts as connected" in str(error)
    await link.aclose()


async def test_a_device_that_never_says_a_word_is_lost_after_the_limit(bluez: Rig) -> None:
    await bluez.device(tach(rate=0.01))
    link = await listening(link_to(TACH, silence_s=0.3))
    taken, error = await until_lost(link)
    assert taken == 0
    assert error.reason is TransportReason.LINK_LOST
    await link.aclose()


async def test_a_device_that_vanishes_without_a_word_is_lost(bluez: Rig) -> None:
    """No Connected change comes in this case; only the silence tells."""
    await bluez.device(tach(rate=50.0))
    link = await listening(link_to(TACH))
    await packets_from(link, 5)
    link._silence_s = 0.4  # only now, as above
    await bluez.silence(TACH)
    await bluez.remove(TACH)
    _, error = await until_lost(link)
    assert error.reason is TransportReason.LINK_LOST
    await link.aclose()


async def test_bluetoothd_dies_and_comes_back(bluez: Rig) -> None:
    await bluez.device(tach(rate=50.0))
    link = await listening(link_to(TACH))
    await packets_from(link, 5)
    link._silence_s = 0.4  # only now, as above
    bluez.end_service()
    _, error = await until_lost(link)
    assert error.reason is TransportReason.LINK_LOST
    await link.aclose()
    gone = await failure_of(link_to(TACH, find_s=0.5).open())
    assert gone.reason is TransportReason.UNAVAILABLE
    assert "Bluetooth service isn't running" in str(gone)
    bluez.start_service()
    await bluez.device(tach(rate=50.0))
    back = await listening(link_to(TACH))
    assert len(await packets_from(back, 5)) >= 5
    await back.aclose()


async def test_the_bus_itself_dies(bluez: Rig) -> None:
    await bluez.device(tach(rate=50.0))
    link = await listening(link_to(TACH, silence_s=5.0))
    await packets_from(link, 5)
    bluez.bus.end()
    with stopwatch() as watch:
        _, error = await until_lost(link)
    assert watch.own_s < 1.0
    assert error.reason is TransportReason.LINK_LOST
    await link.aclose()


async def test_a_full_queue_drops_and_counts(bluez: Rig) -> None:
    await bluez.device(tach(rate=200.0))
    link = await listening(link_to(TACH, most_packets=10))
    while link.packets < 40:  # noqa: ASYNC110 - nobody reads them, so nothing is set
        await asyncio.sleep(0.02)
    first = await link.receive()
    more = await packets_from(link, 1)
    await link.aclose()
    assert [p.lost_before for p in first] == [0] * 10
    assert more[0].lost_before == link.packets_lost
    assert int.from_bytes(more[0].data, "little") == 10 + more[0].lost_before
    assert more[0].bytes_lost_before == 4 * more[0].lost_before


async def test_cut_and_empty_packets_come_as_they_are(bluez: Rig) -> None:
    await bluez.device(tach(rate=0.01))
    link = await listening(link_to(TACH))
    for data in (b"\x01\x02", b"", bytes(600)):
        await bluez.send(TACH, SPEED_UUID, data)
    got = await packets_from(link, 3)
    await link.aclose()
    assert [p.data for p in got] == [b"\x01\x02", b"", bytes(513)]


async def test_opening_can_be_called_off_while_the_device_hangs(bluez: Rig) -> None:
    await bluez.device(tach(hang=True))
    link = BleLink(f"ble:{TACH}", SystemClock(), silence_s=5.0)
    opening = asyncio.create_task(link.open())
    while not await bluez.calls("Connect"):
        assert not opening.done()
    with stopwatch() as watch:
        opening.cancel()
        await asyncio.wait({opening})
        await link.aclose()
    assert watch.own_s < 1.0
    assert opening.cancelled()
    assert await bluez.calls("Disconnect") >= 1, "a connect that was called off must not succeed later"


async def test_opening_can_be_called_off_while_bluetoothd_hangs(bluez: Rig) -> None:
    """bleak then waits for an answer to its own Disconnect, which never comes."""
    await bluez.device(tach(hang=True))
    link = BleLink(f"ble:{TACH}", SystemClock(), silence_s=5.0)
    opening = asyncio.create_task(link.open())
    while not await bluez.calls("Connect"):
        assert not opening.done()
    os.kill(bluez.service_pid, signal.SIGSTOP)
    try:
        with stopwatch() as watch:
            opening.cancel()
            await asyncio.wait({opening})
            await link.aclose()
        assert watch.own_s < 1.0
    finally:
        os.kill(bluez.service_pid, signal.SIGCONT)


async def test_closing_takes_no_second_when_bluetoothd_hangs(bluez: Rig) -> None:
    await bluez.device(tach())
    link = await listening(link_to(TACH, find_s=0.5))
    os.kill(bluez.service_pid, signal.SIGSTOP)
    try:
        with stopwatch() as watch:
            await link.aclose()
        assert watch.own_s < 1.0
    finally:
        os.kill(bluez.service_pid, signal.SIGCONT)


async def test_opening_gives_up_when_bluetoothd_hangs(bluez: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drivers.transports.ble._ANSWER_WITHIN_S", 0.3)
    await bluez.device(tach())
    os.kill(bluez.service_pid, signal.SIGSTOP)
    try:
        error = await failure_of(link_to(TACH, find_s=0.5).open())
    finally:
        os.kill(bluez.service_pid, signal.SIGCONT)
    assert error.reason is TransportReason.UNAVAILABLE
    assert "did not answer within" in str(error)


@pytest.mark.parametrize(
    "text", ["", "ble:", "ble:C4:11:5E", "/dev/ttyUSB0", "ble:name=", "ble:name= ", "keyboard"]
)
def test_what_is_no_address(text: str) -> None:
    with pytest.raises(UsageError, match="reached by Bluetooth LE"):
        parse_ble_address(text)


def test_addresses() -> None:
    assert parse_ble_address("ble:c4:11:5e:00:00:01").matches("C4:11:5E:00:00:01")
    assert not parse_ble_address("ble:c4:11:5e:00:00:01").matches("C4:11:5E:00:00:02", "C4:11:5E:00:00:01")
    assert parse_ble_address("ble:name=Shop tach").matches("C4:11:5E:00:00:01", None, "Shop tach")
    apple = parse_ble_address("ble:5B1F0002-3C2A-4F7E-9D10-7A1C0E55C001")
    assert apple.matches("5b1f0002-3c2a-4f7e-9d10-7a1c0e55c001")
