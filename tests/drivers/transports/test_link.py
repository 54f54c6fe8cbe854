"""The serial link over real pseudo-terminals and real sockets."""

from __future__ import annotations

import asyncio
import grp
import os
import socket
import stat
import sys
import threading
import time
from itertools import pairwise
from pathlib import Path

import pytest

from daq.driver_api import Clock, SystemClock, TransportDefaults, TransportError, TransportReason, UsageError
from drivers.transports.chunks import MAX_QUEUE_BYTES, Chunk
from drivers.transports.link import SerialLink
from drivers.transports.serial_address import check_serial_address
from tests.drivers.conformance import no_thread_but
from tests.drivers.peers import SILENT, Behaviour, PtyPeer, TcpPeer, until
from tests.stopwatch import stopwatch

LINE = TransportDefaults()
NOBODY = 65534


def link_to(address: str, clock: Clock | None = None, max_queue_bytes: int = MAX_QUEUE_BYTES) -> SerialLink:
    return SerialLink(address, LINE, clock or SystemClock(), max_queue_bytes=max_queue_bytes)


async def bytes_from(link: SerialLink, n: int) -> bytes:
    data = b""
    while len(data) < n:
        data += b"".join(chunk.data for chunk in await asyncio.wait_for(link.receive(), 30))
    return data


async def everything_from(link: SerialLink) -> None:
    async with asyncio.timeout(30):
        while True:
            await link.receive()


async def refused(address: str) -> TransportError:
    link = link_to(address)
    with pytest.raises(TransportError) as caught:
        await link.open()
    await link.aclose()
    return caught.value


async def test_bytes_of_a_terminal_line_come_unchanged_in_both_directions() -> None:
    every_byte = bytes(range(256))
    with PtyPeer(SILENT) as peer:
        link = link_to(peer.address)
        await link.open()
        peer.write(every_byte)
        assert await bytes_from(link, 256) == every_byte
        await link.write(every_byte)
        await until(lambda: peer.received == every_byte)
        await link.aclose()


async def test_stamps_are_taken_when_the_bytes_arrive_not_when_they_are_fetched() -> None:
    clock = SystemClock()
    with PtyPeer(SILENT) as peer:
        link = link_to(peer.address, clock)
        await link.open()
        before = clock.now_ns()
        peer.write(b"x")
        # The loop is held up on purpose, until the bytes are there and for a while longer.
        end_s = time.monotonic() + 30
        while link._queue is None or not link._queue._bytes:
            assert time.monotonic() < end_s, "the bytes did not arrive"
            time.sleep(0.001)  # noqa: ASYNC251 - see above
        arrived = clock.now_ns()
        time.sleep(0.1)  # noqa: ASYNC251 - see above
        (chunk,) = await link.receive()
        assert before <= chunk.t_ns <= arrived
        await link.aclose()


async def test_a_port_that_is_open_already_is_told_to_be_busy() -> None:
    with PtyPeer(SILENT) as peer:
        link = link_to(peer.address)
        await link.open()
        error = await refused(peer.address)
        assert error.reason is TransportReason.BUSY
        assert "end that one first" in str(error)
        await link.aclose()
        again = link_to(peer.address)
        await again.open()
        await again.aclose()


async def test_no_such_port_lists_those_that_exist() -> None:
    error = await refused("/dev/ttyUSB99")
    assert error.reason is TransportReason.NOT_FOUND
    assert "no port /dev/ttyUSB99" in str(error)
    assert "Ports that exist: " in str(error) or "no serial port at the moment" in str(error)


async def test_a_file_or_folder_is_no_port(tmp_path: Path) -> None:
    file = tmp_path / "log.txt"
    file.write_text("19.6")
    for path in (file, tmp_path, Path("/dev/null")):
        assert (await refused(str(path))).reason is TransportReason.BAD_ADDRESS
    assert file.read_text() == "19.6"


async def test_no_permission_is_told() -> None:
    with PtyPeer(SILENT) as peer:
        # Nobody may not read Python's own files: what is imported late is imported now.
        await refused("/dev/ttyUSB99")
        assert grp.getgrgid(os.stat(peer.address).st_gid)
        mode, user = stat.S_IMODE(os.stat(peer.address).st_mode), os.geteuid()
        os.chmod(peer.address, 0)
        if user == 0:
            os.seteuid(NOBODY)  # root may open everything
        try:
            error = await refused(peer.address)
        finally:
            os.seteuid(user)
            os.chmod(peer.address, mode)
        assert error.reason is TransportReason.NOT_PERMITTED
        assert "belongs to the group" in str(error)


@pytest.mark.parametrize(
    ("url", "reason"),
    [
        ("nonsense://x", TransportReason.BAD_ADDRESS),
        ("socket://127.0.0.1", TransportReason.BAD_ADDRESS),
        ("socket://127.0.0.1:99999", TransportReason.BAD_ADDRESS),
        ("socket://no-such-host.invalid:7000", TransportReason.UNREACHABLE),
    ],
)
async def test_a_url_that_can_not_be_used_is_refused(url: str, reason: TransportReason) -> None:
    error = await refused(url)
    assert error.reason is reason
    assert url in str(error)


async def test_a_tcp_port_where_nothing_listens_is_unreachable() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        number = listener.getsockname()[1]
    error = await refused(f"socket://127.0.0.1:{number}")
    assert error.reason is TransportReason.UNREACHABLE
    assert "refused" in str(error)


@pytest.mark.parametrize("kind", [PtyPeer, TcpPeer])
async def test_unplugging_loses_nothing_that_came_before_and_is_then_told(
    kind: type[PtyPeer | TcpPeer],
) -> None:
    with kind(Behaviour(unasked=lambda n: b"%d\n" % n)) as peer:
        link = link_to(peer.address)
        await link.open()
        assert await bytes_from(link, 20)
        peer.unplug()
        with pytest.raises(TransportError) as caught:
            await everything_from(link)
        assert caught.value.reason is TransportReason.LINK_LOST
        with pytest.raises(TransportError):
            await link.write(b"x" * 10)
        await link.aclose()


async def test_an_overflowing_queue_is_counted_and_told_in_its_place() -> None:
    with PtyPeer(SILENT) as peer:
        link = link_to(peer.address, max_queue_bytes=8)
        await link.open()
        peer.write(b"12345678")
        await until(lambda: link._queue is not None and link._queue._bytes == 8)
        peer.write(b"lost")
        await until(lambda: link.bytes_lost == 4)
        chunks = await link.receive()
        assert b"".join(chunk.data for chunk in chunks) == b"12345678"
        assert sum(chunk.lost_before for chunk in chunks) == 4
        peer.write(b"next")
        assert [chunk.data for chunk in await link.receive()] == [b"next"]
        await link.aclose()


async def test_an_instrument_that_takes_no_data_is_told_within_a_second_and_blocks_nobody() -> None:
    with PtyPeer(SILENT) as peer:
        link = link_to(peer.address)
        await link.open()
        peer._stop.set()
        peer._thread.join()
        loop = asyncio.get_running_loop()
        turns_s: list[float] = []

        async def tick() -> None:
            while True:
                turns_s.append(loop.time())
                await asyncio.sleep(0.01)

        ticking = asyncio.create_task(tick())
        with stopwatch() as watch, pytest.raises(TransportError, match="takes no data"):
            await link.write(b"x" * 1_000_000)
        ticking.cancel()
        # Others had their turn all the while: a busy machine keeps them from some, and this one from as many.
        assert len(turns_s) > 10
        assert sorted(after - before for before, after in pairwise(turns_s))[len(turns_s) // 2] < 0.1
        assert watch.own_s < 1.5
        with stopwatch() as closing:
            await link.aclose()
        assert closing.own_s < 1.0


@pytest.mark.parametrize("kind", [PtyPeer, TcpPeer])
async def test_closing_is_quick_repeatable_and_leaves_no_thread(kind: type[PtyPeer | TcpPeer]) -> None:
    with kind(SILENT) as peer:
        threads = set(threading.enumerate())
        link = link_to(peer.address)
        await link.aclose()  # never opened
        await link.open()
        with stopwatch() as watch:
            await link.aclose()
            await link.aclose()
        assert watch.own_s < 1.0
        await no_thread_but(threads)


@pytest.mark.skipif(sys.platform != "linux", reason="counts open files in /proc")
@pytest.mark.parametrize("kind", [PtyPeer, TcpPeer])
async def test_opening_and_closing_again_and_again_leaves_no_open_file(
    kind: type[PtyPeer | TcpPeer],
) -> None:
    def open_files() -> int:
        return len(list(Path("/proc/self/fd").iterdir()))

    with kind(SILENT) as peer:
        counts: list[int] = []
        threads = set(threading.enumerate())
        for _ in range(4):
            link = link_to(peer.address)
            await link.open()
            await link.aclose()
            refused_link = link_to("/dev/ttyUSB99")
            with pytest.raises(TransportError):
                await refused_link.open()
            await until(lambda: not peer.serving)
            await no_thread_but(threads)
            counts.append(open_files())
        assert len(set(counts)) == 1


async def test_an_open_that_is_cancelled_leaves_no_port_and_no_thread() -> None:
    with PtyPeer(SILENT) as peer:
        threads = set(threading.enumerate())
        link = link_to(peer.address)
        opening = asyncio.create_task(link.open())
        await asyncio.sleep(0)
        opening.cancel()
        await asyncio.gather(opening, return_exceptions=True)
        await link.aclose()
        await no_thread_but(threads)
        again = link_to(peer.address)
        await again.open()
        await again.aclose()


async def test_pyserials_loop_url_works_over_its_own_read_and_write() -> None:
    link = link_to("loop://")
    await link.open()
    await link.write(b"MEAS?\n")
    assert await bytes_from(link, 6) == b"MEAS?\n"
    await link.aclose()


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # in pyserial 3.5's own thread
async def test_an_rfc2217_server_is_reached_and_its_loss_is_told() -> None:
    from tests.drivers.rfc2217_server import Rfc2217Server

    with Rfc2217Server() as server:
        link = link_to(server.address)
        await link.open()
        await link.write(b"hello")
        assert await bytes_from(link, 5) == b"hello"
        server.close()
        with pytest.raises(TransportError) as caught:
            await everything_from(link)
        assert caught.value.reason is TransportReason.LINK_LOST
        await link.aclose()


@pytest.mark.parametrize("address", ["", "keyboard", "ble:00:11:22:33:44:55"])
def test_addresses_of_other_transports_are_wrong_usage(address: str) -> None:
    with pytest.raises(UsageError, match="serial port"):
        check_serial_address(address)


def test_a_chunk_compares_by_value() -> None:
    assert Chunk(b"a", 1) == Chunk(b"a", 1, 0)


def test_importing_the_plugins_does_not_import_pyserial() -> None:
    import subprocess

    code = "import sys, drivers.text, drivers.scpi; sys.exit('serial' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
