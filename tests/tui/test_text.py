"""Strings from elsewhere can't drive the terminal."""

from __future__ import annotations

import pytest

from tui.text import clean


@pytest.mark.parametrize(
    ("dirty", "expected"),
    [
        ("meter one", "meter one"),
        ("\x1b[31mred\x1b[0m", "red"),
        ("\x1b]0;owned\x07title", "title"),
        ("\x1b]52;c;ZWNobw==\x1b\\clip", "clip"),
        ("\x9b2Jwipe", "wipe"),
        ("\x9d0;owned\x9cafter", "after"),
        ("cut\x1b", "cut"),
        ("a\x00b\x07c\x7fd", "a b c d"),
        ("two\r\nlines\tand tab", "two lines and tab"),
        ("turned\u202eround", "turned round"),
        ("half\ud800pair", "half pair"),
        ("Größe ± 3 °C", "Größe ± 3 °C"),
        ("[bold]not markup[/]", "[bold]not markup[/]"),
        ("", ""),
    ],
)
def test_only_printable_text_is_left(dirty: str, expected: str) -> None:
    assert clean(dirty) == expected


def test_long_text_is_cut() -> None:
    assert clean("x" * 500, limit=20) == "x" * 17 + "..."


def test_nothing_unprintable_comes_through() -> None:
    every = "".join(map(chr, range(0x300))) + "\u2028\u2029\u200b\ufeff\U000e0041"
    assert all(character.isprintable() for character in clean(every, limit=10_000))
