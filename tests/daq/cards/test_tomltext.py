"""TOML of strangers: within bounds it is what the standard library reads; beyond them it is refused at once."""

from __future__ import annotations

import os
import time
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.cards.tomltext import MOST_BYTES, MOST_NESTING, MOST_PARTS, TomlError, parse_toml, read_toml_text

CARDS = [
    path
    for folder in ("daq/cards/machines", "drivers/cards", "tests/faults/corpus")
    for path in sorted((Path(__file__).parents[3] / folder).glob("*.toml"))
    if "-harm-" not in path.name
]
SIZE = MOST_BYTES - 100


def full(part: str) -> str:
    return part * (SIZE // len(part))


@pytest.mark.parametrize("path", CARDS, ids=lambda path: path.name)
def test_a_card_is_read_as_it_is_and_far_within_the_bounds(path: Path) -> None:
    text = path.read_text("utf-8")
    assert parse_toml(text) == tomllib.loads(text)
    assert len(text) < MOST_BYTES / 10


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a=" + full("["), "nested"),
        ("a=" + full("{a="), "nested"),
        (f"a={'[' * (MOST_NESTING + 1)}{']' * (MOST_NESTING + 1)}", "nested"),
        ("a=" + full("'''x''',[") + "\n", "nested"),
        (full("a.") + "a=1", "dotted key"),
        (full('"a".') + "a=1", "dotted key"),
        (full("a . ") + "a=1", "dotted key"),
        ("[" + full("a.") + "a]", "dotted key"),
        ("x={" + full("a.") + "a=1}", "dotted key"),
        ("a." * MOST_PARTS + "a=1", "dotted key"),
        ("a=" + full("9"), "digits"),
        ("a=" + full("1_") + "1", "digits"),
        ("a=[{b=0x" + full("f") + "}]", "digits"),
        ("a=9223372036854775808", "digits"),
        ("x" * (MOST_BYTES + 1), "larger"),
        (full('"""\n\\'), "not valid TOML"),
        (full('"'), "not valid TOML"),
        ("a=", "not valid TOML"),
        ("a=\\" + full('\\"'), "not valid TOML"),
    ],
    ids=range(19),
)
def test_what_is_beyond_the_bounds_is_refused_at_once(text: str, told: str) -> None:
    began_s = time.process_time()
    with pytest.raises(TomlError, match=told):
        parse_toml(text)
    assert time.process_time() - began_s < 1.0


@pytest.mark.parametrize(
    "text",
    [
        full("[[a.b.c.d]]\n"),
        "".join(f"a.b.c.d.e.f.g.h.i.j.k.l.m{i}=1\n" for i in range(2000)),
        "a=[" + "[[[[{a.b.c.d=1}]]]],\n" * 3000 + "]",
        "a=1." + full("9"),
        "a='''" + full("[\n") + "'''",
        'a="""' + full("\\n") + '"""',
        "a=[" + full("#[[\n") + "]",
        'a="' + full("[.") + '" # ' + "[" * 50,
        f"a={'[' * MOST_NESTING}{']' * MOST_NESTING}",
        "a." * (MOST_PARTS - 1) + "a=1",
        "a=[-9223372036854775808, 9223372036854775807]",
    ],
    ids=range(11),
)
def test_what_is_within_the_bounds_is_read_and_never_long(text: str) -> None:
    began_s = time.process_time()
    assert parse_toml(text) == tomllib.loads(text)
    assert time.process_time() - began_s < 1.0


@given(st.text("ab.=[]{}\"'\\#\n, 1x_-", max_size=20))
def test_the_bounds_refuse_no_small_text_that_the_library_reads(text: str) -> None:
    """Strings, comments and keys are told apart as the library does: what it takes is shallow here."""
    try:
        due = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert parse_toml(text) == due


def test_a_file_is_read_with_and_without_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    for encoding in ("utf-8", "utf-8-sig"):
        path.write_text("a = 'ä'", encoding)
        assert read_toml_text(path) == "a = 'ä'"


def test_a_pipe_a_folder_and_a_file_too_large_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(TomlError, match="no ordinary file"):
        read_toml_text(tmp_path / "pipe")
    with pytest.raises(OSError, match="directory"):
        read_toml_text(tmp_path)
    (tmp_path / "large").write_bytes(b"#" * (MOST_BYTES + 1))
    with pytest.raises(TomlError, match="larger than 64 kB"):
        read_toml_text(tmp_path / "large")
    (tmp_path / "odd").write_bytes(b"ab\xff")
    with pytest.raises(TomlError, match="byte 2"):
        read_toml_text(tmp_path / "odd")
