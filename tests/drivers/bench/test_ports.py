"""Ports as others see them: real pseudo-terminals and real sockets."""

from __future__ import annotations

import os
import select
import socket
import sys
import time
from collections.abc import Iterator

import pytest

from drivers.bench.ports import Port, TcpPort, open_port
from tests.stopwatch import stopwatch

needs_ptys = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")

if sys.platform != "win32":
    from drivers.bench.pty_port import PtyPort

    @pytest.fixture
    def pty_port() -> Iterator[PtyPort]:
        port = PtyPort(most_unread=256)
        yield port
        port.close()

    def far_end(port: PtyPort) -> int:
        return os.open(port.address, os.O_RDWR | os.O_NOCTTY)

    def arrives(descriptor: int, end: bytes) -> bytes:
        """What comes, up to ``end``; the system hands bytes on in its own time and in its own pieces."""
        found = b""
        while not found.endswith(end) and select.select([descriptor], [], [], 30.0)[0]:
            found += os.read(descriptor, 65536)
        return found

    @needs_ptys
    def test_bytes_pass_both_ways_unchanged_and_without_echo(pty_port: PtyPort) -> None:
        every_byte = bytes(range(256))
        far = far_end(pty_port)
        try:
            pty_port.write(every_byte[:128])
            pty_port.write(every_byte[128:])
            assert arrives(far, every_byte) == every_byte
            os.write(far, every_byte)
            heard = b""
            while len(heard) < len(every_byte) and (piece := hear(pty_port)):
                heard += piece
            assert heard == every_byte
            assert select.select([far], [], [], 0.05)[0] == []
        finally:
            os.close(far)

    @needs_ptys
    def test_a_caller_can_go_and_another_come(pty_port: PtyPort) -> None:
        for _ in range(3):
            far = far_end(pty_port)
            pty_port.write(b"3600 rpm\r\n")
            assert arrives(far, b"\n") == b"3600 rpm\r\n"
            os.close(far)
            assert pty_port.read() == b""

    @needs_ptys
    def test_what_nobody_reads_is_lost_and_never_blocks(pty_port: PtyPort) -> None:
        for k in range(1000, 1300):
            pty_port.write(b"%d rpm\r\n" % k)
            time.sleep(0.001)
        far = far_end(pty_port)
        try:
            left = arrives(far, b"1299 rpm\r\n")
        finally:
            os.close(far)
        assert left.endswith(b"1299 rpm\r\n")
        assert len(left) < 1500  # of the 3000 that were written
        assert left.split()[0].isdigit()

    @needs_ptys
    def test_closed_it_is_gone_for_the_caller(pty_port: PtyPort) -> None:
        far = far_end(pty_port)
        try:
            pty_port.close()
            pty_port.close()
            pty_port.write(b"nothing\n")
            assert pty_port.read() == b""
            with pytest.raises(OSError, match=r"."):
                os.write(far, b"hello?\n")
        finally:
            os.close(far)

    @needs_ptys
    def test_a_pseudo_terminal_unless_tcp_is_asked_for() -> None:
        for tcp, start in ((False, "/dev/"), (True, "socket://127.0.0.1:")):
            port = open_port(tcp=tcp)
            assert port.address.startswith(start)
            port.close()


@pytest.fixture
def tcp_port() -> Iterator[TcpPort]:
    port = TcpPort()
    yield port
    port.close()


def call(port: TcpPort) -> socket.socket:
    return socket.create_connection(("127.0.0.1", int(port.address.rpartition(":")[2])), timeout=30.0)


def hear(port: Port) -> bytes:
    """Poll the port, as the bench does, until something came."""
    for _ in range(6000):
        data = port.read()
        if data:
            return data
        time.sleep(0.005)
    return b""


def test_a_socket_passes_bytes_both_ways(tcp_port: TcpPort) -> None:
    tcp_port.write(b"to nobody\n")
    with call(tcp_port) as caller:
        caller.sendall(b"*IDN?\n")
        assert hear(tcp_port) == b"*IDN?\n"
        tcp_port.write(b"it is me\n")
        assert caller.recv(100) == b"it is me\n"


def test_a_new_caller_takes_over_and_one_who_leaves_does_no_harm(tcp_port: TcpPort) -> None:
    with call(tcp_port) as first, call(tcp_port) as second:
        second.sendall(b"hello\n")
        assert hear(tcp_port) == b"hello\n"
        tcp_port.write(b"answer\n")
        assert second.recv(100) == b"answer\n"
        assert first.recv(100) == b""
    assert tcp_port.read() == b""
    tcp_port.write(b"to nobody\n")
    with call(tcp_port) as third:
        third.sendall(b"again\n")
        assert hear(tcp_port) == b"again\n"


def test_a_caller_who_does_not_read_never_blocks_the_bench(tcp_port: TcpPort) -> None:
    with call(tcp_port) as caller:
        caller.sendall(b"x")
        assert hear(tcp_port) == b"x"
        with stopwatch() as watch:
            for _ in range(2000):
                tcp_port.write(b"y" * 10_000)
        assert watch.own_s < 5.0
