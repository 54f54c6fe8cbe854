"""An instrument that speaks unasked: how its stream begins, and what a loss does to it."""

from __future__ import annotations

import asyncio
import time

import pytest

from daq.driver_api import ChannelCard, ManualClock, Quality, Quantity, Reading, TransportDefaults
from drivers.text.decoder import TextDecoder
from drivers.text.settings import TextSettings
from drivers.transports.link import SerialLink
from drivers.transports.stream import StreamInstrument
from tests.drivers.peers import SILENT, PtyPeer, until


def instrument(
    address: str, clock: ManualClock, queue_bytes: int = 1000
) -> tuple[StreamInstrument, SerialLink]:
    link = SerialLink(address, TransportDefaults(), clock, max_queue_bytes=queue_bytes)
    decoder = TextDecoder(ChannelCard(Quantity.AC_VOLTAGE), TextSettings())
    return StreamInstrument(link, decoder, 1, "a line"), link


async def first(opened: StreamInstrument) -> list[Reading]:
    async with asyncio.timeout(30):
        return await opened.receive()


async def test_a_line_that_was_under_way_when_the_port_opened_is_no_reading() -> None:
    clock = ManualClock(1)
    with PtyPeer(SILENT) as peer:
        opened, _ = instrument(peer.address, clock)
        async with opened:
            peer.write(b"9.62 V\r\n20.01 V\r\n")  # no time has passed since opening: the 1 was before it
            assert [reading.value for reading in await first(opened)] == [20.01]


async def test_after_a_quiet_start_the_first_line_is_whole_and_counts() -> None:
    clock = ManualClock(1)
    with PtyPeer(SILENT) as peer:
        opened, _ = instrument(peer.address, clock)
        async with opened:
            clock.advance(0.1)
            peer.write(b"19.62 V\r\n")
            assert [reading.value for reading in await first(opened)] == [19.62]


async def test_a_loss_is_told_in_its_place_and_the_cut_line_after_it_is_no_reading() -> None:
    clock = ManualClock(1)
    with PtyPeer(SILENT) as peer:
        opened, link = instrument(peer.address, clock, queue_bytes=8)
        async with opened:
            clock.advance(0.1)
            peer.write(b"19.62\r\n1")  # fills the queue to the brim
            await until(lambda: link._queue is not None and link._queue._bytes == 8)
            peer.write(b"9.70\r\n1")  # has no room
            await until(lambda: link.bytes_lost == 7)
            assert [(r.value, r.quality) for r in await first(opened)] == [
                (19.62, Quality.GOOD),
                (None, Quality.LOST),
            ]
            peer.write(b"9\r\n8.8\r\n")  # the 9 ends the line that was cut
            assert [r.value for r in await first(opened)] == [8.8]
            assert opened.status.bytes_lost == 7
            assert opened.status.bytes_received == 16


async def test_the_newest_bytes_are_kept_for_the_sentence_and_no_more_than_64() -> None:
    clock = ManualClock(1)
    with PtyPeer(SILENT) as peer:
        opened, _ = instrument(peer.address, clock)
        async with opened:
            clock.advance(0.1)
            peer.write(b"x" * 200 + b"\r\n")
            assert [r.quality for r in await first(opened)] == [Quality.BAD_FRAME]
            assert opened.status.last_bytes == (b"x" * 200 + b"\r\n")[-64:]
            assert opened.status.bad_frames == 1


async def test_an_unfinished_line_is_a_bad_frame_before_the_loss_of_the_link_is_told() -> None:
    clock = ManualClock(1)
    with PtyPeer(SILENT) as peer:
        opened, _ = instrument(peer.address, clock)
        async with opened:
            clock.advance(0.1)
            peer.write(b"19.")
            await until(lambda: opened._link._queue is not None and opened._link._queue._bytes == 3)
            peer.unplug()
            assert [r.quality for r in await first(opened)] == [Quality.BAD_FRAME]


@pytest.mark.parametrize(
    ("after", "came"),
    [
        (b"1234.5 V\r\n8.8 V\r\n", [(None, Quality.BAD_FRAME), (8.8, Quality.GOOD)]),
        (b"\r\n8.8 V\r\n", [(12.0, Quality.GOOD), (8.8, Quality.GOOD)]),
    ],
)
async def test_a_line_broken_off_by_a_pause_never_joins_the_next_one(
    after: bytes, came: list[tuple[float | None, Quality]]
) -> None:
    clock = ManualClock(1)
    with PtyPeer(SILENT) as peer:
        opened, _ = instrument(peer.address, clock)
        async with opened:
            clock.advance(0.1)
            peer.write(b"12")
            waiting = asyncio.create_task(opened.receive())
            await until(lambda: opened.status.bytes_received == 2)
            clock.advance(0.6)
            peer.write(after)
            assert [(r.value, r.quality) for r in await waiting] == came


async def test_a_line_that_comes_in_parts_is_one_reading() -> None:
    clock = ManualClock(1)
    with PtyPeer(SILENT) as peer:
        opened, _ = instrument(peer.address, clock)
        async with opened:
            clock.advance(0.1)
            waiting = asyncio.create_task(opened.receive())
            for n, part in enumerate((b"1", b"9.", b"62 V\r\n")):
                peer.write(part)
                if n < 2:
                    await until(lambda end=(1, 3)[n]: opened.status.bytes_received == end)  # type: ignore[misc]  # bound
                    clock.advance(0.4)
            assert [r.value for r in await waiting] == [19.62]


def _arrived_while_the_loop_stands(link: SerialLink, size: int) -> None:
    """Wait in the thread of the event loop itself, which so has no turn; only the reader thread runs on."""
    end = time.monotonic() + 30
    while link._queue is None or link._queue._bytes < size:
        assert time.monotonic() < end, "the bytes did not arrive"
        time.sleep(0.001)


async def test_stamps_are_those_of_arrival_though_the_event_loop_stands_still() -> None:
    clock = ManualClock(1)
    with PtyPeer(SILENT) as peer:
        opened, link = instrument(peer.address, clock)
        async with opened:
            sent_ns: list[int] = []
            for n in range(5):
                clock.advance(0.1)
                sent_ns.append(clock.now_ns())
                peer.write(b"19.6%d V\r\n" % n)
                _arrived_while_the_loop_stands(link, 9 * (n + 1))
            clock.advance(10.0)
            readings = await first(opened)
            assert [r.value for r in readings] == [19.60, 19.61, 19.62, 19.63, 19.64]
            assert [r.t_ns for r in readings] == sent_ns
