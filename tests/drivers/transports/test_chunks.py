"""The bounded queue between a reader thread and the event loop."""

from __future__ import annotations

import asyncio
import threading

import pytest

from daq.driver_api import TransportError, TransportReason
from drivers.transports.chunks import TAKEN_EVERY_S, Chunk, ChunkQueue


def lost_link() -> TransportError:
    return TransportError("gone", reason=TransportReason.LINK_LOST, address="here")


async def test_chunks_come_in_order_with_their_stamps() -> None:
    queue = ChunkQueue(asyncio.get_running_loop())
    queue.put(b"a", 1)
    queue.put(b"b", 2)
    assert await queue.get() == [Chunk(b"a", 1), Chunk(b"b", 2)]


async def test_a_full_queue_drops_the_newest_bytes_counts_them_and_says_where() -> None:
    queue = ChunkQueue(asyncio.get_running_loop(), max_bytes=4)
    queue.put(b"abc", 1)
    queue.put(b"de", 2)
    queue.put(b"fg", 3)
    assert queue.bytes_lost == 4
    assert await queue.get() == [Chunk(b"abc", 1), Chunk(b"", 3, 4)]
    queue.put(b"h", 4)
    assert await queue.get() == [Chunk(b"h", 4)]


async def test_a_chunk_that_fits_after_a_loss_carries_the_loss() -> None:
    queue = ChunkQueue(asyncio.get_running_loop(), max_bytes=4)
    queue.put(b"abc", 1)
    queue.put(b"de", 2)
    queue.put(b"f", 3)
    assert await queue.get() == [Chunk(b"abc", 1), Chunk(b"f", 3, 2)]


async def test_the_number_of_chunks_is_bounded_too() -> None:
    queue = ChunkQueue(asyncio.get_running_loop(), max_chunks=10)
    for n in range(25):
        queue.put(b"x", n)
    taken = await queue.get()
    assert (len(taken), taken[-1], queue.bytes_lost) == (11, Chunk(b"", 24, 15), 15)


async def test_the_end_is_told_after_all_that_came_before_and_every_time_then() -> None:
    queue = ChunkQueue(asyncio.get_running_loop())
    queue.put(b"a", 1)
    queue.end(lost_link())
    assert await queue.get() == [Chunk(b"a", 1)]
    for _ in range(2):
        with pytest.raises(TransportError, match="gone"):
            await queue.get()


async def test_a_cancelled_wait_loses_nothing() -> None:
    queue = ChunkQueue(asyncio.get_running_loop())
    waiting = asyncio.create_task(queue.get())
    await asyncio.sleep(0)
    queue.put(b"a", 1)
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    assert await queue.get() == [Chunk(b"a", 1)]


async def test_a_thread_that_fills_it_fast_loses_nothing_and_wakes_the_loop_seldom() -> None:
    loop = asyncio.get_running_loop()
    queue = ChunkQueue(loop)
    total = 5000

    def fill() -> None:
        for n in range(total):
            queue.put(b"%d," % n, n)

    thread = threading.Thread(target=fill)
    thread.start()
    taken: list[Chunk] = []
    begun_s, takes = loop.time(), 0
    while len(taken) < total:
        taken += await queue.get()
        takes += 1
    thread.join()
    assert takes <= 1 + (loop.time() - begun_s) / TAKEN_EVERY_S
    assert [chunk.t_ns for chunk in taken] == list(range(total))
    assert queue.bytes_lost == 0


def test_a_loop_that_has_gone_is_no_error_for_the_thread() -> None:
    async def make() -> ChunkQueue:
        return ChunkQueue(asyncio.get_running_loop())

    queue = asyncio.run(make())
    queue.put(b"a", 1)
    queue.end(lost_link())
    assert queue.bytes_lost == 0


async def test_a_backlog_is_handed_out_a_part_at_a_time_with_its_loss_at_the_end() -> None:
    queue = ChunkQueue(asyncio.get_running_loop(), max_chunks=20)
    for n in range(25):
        queue.put(bytes([n]) * 4096, n)
    parts = [await queue.get() for _ in range(3)]
    assert [len(part) for part in parts] == [8, 8, 5]
    together = [chunk for part in parts for chunk in part]
    assert [chunk.t_ns for chunk in together[:-1]] == list(range(20))
    assert together[-1] == Chunk(b"", 24, 5 * 4096)
