"""The bench as a process that may fail, and text forms of cards and pictures."""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from daq.errors import SpinvoltError
from tui.benchprocess import BenchProcess
from tui.pictures.__main__ import PICTURES, RECORDINGS, draw
from tui.pictures.svg import strips_to_svg
from tui.tomltext import toml_text


def test_a_bench_that_ends_at_once_is_told_with_what_it_said() -> None:
    command = [sys.executable, "-c", "print('no room on the bench')"]
    with pytest.raises(SpinvoltError, match="ended before it was ready: no room on the bench"):
        BenchProcess(command)


def test_a_bench_ends_with_its_input() -> None:
    talk = 'import sys; [print(\'{"card": "c", "address": "a%d"}\' % n, flush=True) for n in (1, 2)]; sys.stdin.read()'
    with BenchProcess([sys.executable, "-c", talk]) as bench:
        assert bench.instruments == [("c", "a1"), ("c", "a2")]
    bench.close()


KEYS = st.text(min_size=1, max_size=8)
SCALARS = st.one_of(
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False),
    st.text(alphabet=st.characters(exclude_categories=["Cs"])),
)
VALUES = st.recursive(
    SCALARS | st.lists(SCALARS, max_size=3),
    lambda inner: (
        st.dictionaries(KEYS, inner, min_size=1, max_size=3)
        | st.lists(st.dictionaries(KEYS, SCALARS, max_size=3), min_size=1, max_size=3)
    ),
    max_leaves=8,
)


@given(st.dictionaries(KEYS.filter(lambda key: key.isprintable()), VALUES, max_size=4))
def test_what_is_written_as_toml_is_read_back_the_same(table: dict[str, Any]) -> None:
    assert tomllib.loads(toml_text(table)) == table


@pytest.mark.parametrize(
    "text", ["one\ntwo\n", "a \\ b\n'c' \"d\"\n", '"""\nx', 'x\n"', "x\n\\", "\n\nx\n", "x\r\ny", "\tx\ny"]
)
def test_text_of_several_lines_stays_what_it_is(text: str) -> None:
    assert tomllib.loads(toml_text({"notes": text})) == {"notes": text}


def test_text_of_several_lines_is_written_as_one_reads_it() -> None:
    assert toml_text({"notes": "one\n two\n"}) == 'notes = """\none\n two\n"""\n'


def test_what_is_not_known_is_left_out_of_toml() -> None:
    assert toml_text({"a": 1, "b": None, "c": {"d": None}}) == "a = 1\n"


def test_a_picture_draws_dots_blocks_and_lines_itself() -> None:
    strip = Strip([Segment("⠁█─ ok  far", Style.parse("#ff0000 on #0000ff"))])
    svg = strips_to_svg([strip], background="#000000", foreground="#ffffff", title="a <title>")
    root = ElementTree.fromstring(svg)
    space = {"s": "http://www.w3.org/2000/svg"}
    assert root.findtext("s:title", namespaces=space) == "a <title>"
    texts = {text.text: float(text.attrib["x"]) for text in root.iterfind(".//s:text", space)}
    assert texts == {"ok": 4 * 9.0, "far": 8 * 9.0}
    red, blue = (
        next(path.attrib["d"] for path in root.iterfind(".//s:path", space) if path.attrib["fill"] == colour)
        for colour in ("#ff0000", "#0000ff")
    )
    assert red.count("M") == 1 + 1 + 2
    assert blue == "M0 0h99v18h-99z"


def test_the_readmes_picture_can_be_made_and_needs_nothing_from_elsewhere() -> None:
    picture = PICTURES[0]
    svg = draw(picture, RECORDINGS / picture.recording)
    assert re.findall(r"https?://[^\"]+", svg) == ["http://www.w3.org/2000/svg"]
    texts = {element.text for element in ElementTree.fromstring(svg).iter() if element.text}
    assert "✓ meets its limit" in texts
    assert f"recordings/pictures/{picture.name}.svg" in (RECORDINGS.parent / "README.md").read_text()
    assert all((RECORDINGS / "pictures" / f"{each.name}.svg").exists() for each in PICTURES)


def test_the_pictures_name_recordings_that_are_there() -> None:
    assert all(Path(RECORDINGS / picture.recording).exists() for picture in PICTURES)
