from __future__ import annotations

import socket

import pytest

from daq.errors import SpinvoltError, UsageError
from tui.serve.address import ServeAddress, parse_address
from tui.serve.link import link_text, picture, reachable_host
from tui.serve.listener import listening_socket


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("127.0.0.1", "127.0.0.1", None),
        ("192.168.1.20:8080", "192.168.1.20", 8080),
        ("Bench-Laptop.local:9000", "bench-laptop.local", 9000),
        ("localhost.", "localhost", None),
        ("::1", "::1", None),
        ("[::1]", "::1", None),
        ("[FE80::1]:65535", "fe80::1", 65535),
        (" 0.0.0.0:1 ", "0.0.0.0", 1),  # noqa: S104 - text to be read, nothing is bound
    ],
)
def test_addresses_are_read(text: str, host: str, port: int | None) -> None:
    assert parse_address(text) == ServeAddress(host, port)


@pytest.mark.parametrize(
    "text",
    [
        "", ":8080", "a:", "a:b", "a:0", "a:65536", "a:٣", "a:-1", "a:99999999999999999999",
        "a b", "http://a", "a/b", "[::1", "[::1]8080", "[::1]x:1", "a..\x1b[2J", "-a", "a@b", "a:1:2", "é",
    ],
)  # fmt: skip
def test_what_is_no_address_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_address(text)


@pytest.mark.parametrize(
    ("host", "loopback", "every"),
    [
        ("127.0.0.1", True, False),
        ("127.8.8.8", True, False),
        ("::1", True, False),
        ("localhost", True, False),
        ("localhost.example", False, False),
        ("192.168.1.20", False, False),
        ("0.0.0.0", False, True),  # noqa: S104 - text
        ("::", False, True),
    ],
)
def test_only_this_computer_or_the_network(host: str, loopback: bool, every: bool) -> None:
    address = ServeAddress(host)
    assert (address.is_loopback, address.is_every) == (loopback, every)


def test_a_port_that_is_in_use_is_told_and_the_usual_one_gives_way() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(SpinvoltError, match=f"Port {port} of 127.0.0.1 is in use"):
            listening_socket(ServeAddress("127.0.0.1", port))
    with listening_socket(ServeAddress()) as first, listening_socket(ServeAddress()) as second:
        assert first.getsockname()[1] != second.getsockname()[1]


def test_an_address_of_another_computer_is_told() -> None:
    # 192.0.2.0/24 is kept for examples (RFC 5737): no computer has it.
    with pytest.raises(SpinvoltError, match="192.0.2.7 is no address of this computer"):
        listening_socket(ServeAddress("192.0.2.7"))


def test_the_link_carries_the_key_where_no_browser_sends_it() -> None:
    assert link_text("192.168.1.20", 8750, "abcd-efgh") == "http://192.168.1.20:8750/#abcd-efgh"
    assert link_text("fe80::1", 80, None) == "http://[fe80::1]:80/"


def test_the_host_of_the_link_is_one_that_can_be_reached() -> None:
    assert reachable_host(ServeAddress("bench.local")) == "bench.local"
    assert reachable_host(ServeAddress("0.0.0.0")) not in {"0.0.0.0", ""}  # noqa: S104 - text


def test_the_picture_holds_the_code_with_its_quiet_border() -> None:
    import segno

    link = "http://192.168.1.20:8750/#k7qm-4xwn-p2cd"
    rows = picture(link)
    dots = [list(row) for row in segno.make(link, error="l", micro=False).matrix_iter(border=4)]
    assert {len(row) for row in rows} == {len(dots[0])}
    # A terminal writes light on dark: ink stands for the code's light dots.
    halves = {"█": (0, 0), "▀": (0, 1), "▄": (1, 0), " ": (1, 1)}
    drawn = [[halves[sign][half] for sign in row] for row in rows for half in (0, 1)]
    assert drawn[: len(dots)] == [[int(dot) for dot in row] for row in dots]
    assert set(rows[0]) == {"█"}
