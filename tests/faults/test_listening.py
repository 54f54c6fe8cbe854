"""Nothing listens on a network unless asked."""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path

import pytest

from tests.faults.listening import listeners_of_a_demo, listeners_of_screens, sockets_listened_on

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks into Linux's table of sockets")


def test_a_demo_with_its_capture_and_its_bench_listens_nowhere(tmp_path: Path) -> None:
    count, found = listeners_of_a_demo(tmp_path)
    assert count >= 3, "the program, its capture and its bench"
    assert found == []


def test_a_demo_on_the_screen_and_a_second_screen_that_watches_it_listen_nowhere(tmp_path: Path) -> None:
    found = listeners_of_screens(tmp_path)
    assert found["demo"][0] >= 3, "dashboard, capture and bench"
    assert {name: sockets for name, (_, sockets) in found.items()} == {"demo": [], "watch": []}


def test_the_look_sees_what_listens() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        (found,) = sockets_listened_on([os.getpid()])
        assert found == f"tcp 0100007F:{server.getsockname()[1]:04X}"
