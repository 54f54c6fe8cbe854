"""The guard's rules: who calls by which name, from which page, and with which key."""

from __future__ import annotations

import re
from itertools import count

import pytest

from tui.serve.guard import KEY_CHARACTERS, KEY_LENGTH, Guard, new_key


def numbered() -> Guard:
    """A guard whose keys are known: key-1, key-2, ..."""
    numbers = count(1)
    return Guard(8750, {"192.168.1.20"}, keyed=True, make_key=lambda: f"key-{next(numbers)}")


@pytest.mark.parametrize("host", ["192.168.1.20:8750", "bench.local:8750", "BENCH.local:8750"])
def test_the_names_that_are_served(host: str) -> None:
    assert Guard(8750, {"192.168.1.20", "bench.local"}).serves(host)


@pytest.mark.parametrize(
    "host",
    [
        "", "192.168.1.20", "192.168.1.20:80", "192.168.1.21:8750", "evil.example:8750", "192.168.1.20:8750.evil",
        "192.168.1.20:8750@evil.example", "192.168.1.20:87500", "192.168.1.20: 8750", "192.168.1.20:+8750",
        "[192.168.1.20]x:8750", "bench.local.evil.example:8750", ":8750", "192.168.1.20:" + "0" * 200 + "8750",
    ],
)  # fmt: skip
def test_a_name_that_is_not_served(host: str) -> None:
    assert not Guard(8750, {"192.168.1.20", "bench.local"}).serves(host)


def test_for_all_addresses_any_number_will_do_but_no_name() -> None:
    guard = Guard(8750, {"laptop"}, any_ip=True)
    assert guard.serves("10.0.0.3:8750")
    assert guard.serves("[fe80::1]:8750")
    assert guard.serves("laptop:8750")
    assert not guard.serves("rebound.example:8750")
    assert not guard.serves("10.0.0.3:8751")


def test_port_80_may_go_unsaid() -> None:
    assert Guard(80, {"bench"}).serves("bench")
    assert not Guard(8750, {"bench"}).serves("bench")


@pytest.mark.parametrize(
    ("origin", "ours"),
    [
        ("http://127.0.0.1:8750", True),
        (None, False),
        ("null", False),
        ("", False),
        ("https://127.0.0.1:8750", False),
        ("http://127.0.0.1", False),
        ("http://127.0.0.1:8750/", False),
        ("http://localhost:8750", False),
        ("http://evil.example", False),
        ("http://127.0.0.1:8750.evil.example", False),
    ],
)
def test_a_request_must_come_from_our_own_page(origin: str | None, ours: bool) -> None:
    assert Guard(8750, {"127.0.0.1", "localhost"}).ours(origin, "127.0.0.1:8750") is ours


def test_a_site_that_lets_its_name_point_here_is_not_ours() -> None:
    guard = Guard(8750, {"127.0.0.1", "localhost"})
    assert not guard.ours("http://rebound.example:8750", "rebound.example:8750")


def test_without_a_key_everybody_may_look() -> None:
    guard = Guard(8750, {"127.0.0.1"})
    assert guard.key is None
    assert guard.knows(None)
    assert guard.admits(None)
    assert guard.enter("") is None


def test_a_key_is_used_up_by_the_screen_that_opens_and_not_before() -> None:
    guard = numbered()
    looked_at = guard.enter("key-1")
    assert looked_at is not None
    assert guard.knows(looked_at)
    assert guard.key == "key-1", "only asked for, such as by a program that looks at links"
    token = guard.enter("key-1")
    assert token not in {None, looked_at}
    assert guard.admits(token)
    assert guard.key == "key-2"
    assert guard.enter("key-1") is None
    assert not guard.knows(looked_at), "another browser has the key's place"
    assert not guard.admits(looked_at)
    assert guard.admits(token)
    assert guard.key == "key-2", "a reload uses nothing up"
    second = guard.enter("key-2")
    assert guard.admits(second)
    assert guard.admits(token)
    assert guard.key == "key-3"


def test_who_only_asks_with_the_key_again_and_again_takes_no_room() -> None:
    guard = numbered()
    tokens = [guard.enter("key-1") for _ in range(1000)]
    assert [guard.knows(token) for token in (tokens[0], tokens[-1])] == [False, True]
    assert guard.admits(tokens[-1])


def test_a_wrong_key_uses_nothing_up() -> None:
    guard = numbered()
    for wrong in ("", "key", "key-", "key-2", "key-11", "\ud800", "key-1" + "x" * 10_000, "é"):
        assert guard.enter(wrong) is None, wrong
    assert guard.key == "key-1"


def test_a_key_may_be_typed_in_capitals_and_ungrouped() -> None:
    assert numbered().enter(" KEY 1\n") is not None


@pytest.mark.parametrize("token", [None, "", "x", "\udcff", "key-1"])
def test_what_is_no_token_is_not_known(token: str | None) -> None:
    guard = numbered()
    assert not guard.knows(token)
    assert guard.enter("key-1") is not None
    assert not guard.knows(token)
    assert not guard.admits(token)
    assert guard.key == "key-1"


def test_keys_are_drawn_from_letters_that_can_be_told_apart() -> None:
    keys = {new_key() for _ in range(200)}
    assert len(keys) == 200
    assert all(re.fullmatch(rf"([{KEY_CHARACTERS}]{{4}}-){{2}}[{KEY_CHARACTERS}]{{4}}", key) for key in keys)
    assert len(set("".join(keys)) - {"-"}) == len(KEY_CHARACTERS)
    assert not set(KEY_CHARACTERS) & set("il1o0")
    assert len(KEY_CHARACTERS) ** KEY_LENGTH > 2**58
