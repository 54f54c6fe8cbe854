"""The block letters: sizes, shapes, and that everything the screen spells can be drawn."""

from __future__ import annotations

import pytest

from tui.dashboard.blockfont import Size, block_height, block_text, block_width, drawable
from tui.dashboard.blockglyphs import GLYPHS, HEIGHT_PX
from tui.view.verdict import SHAPES, VERDICT_WORDS

SIX_HALF = [" ▄▀▀ ", " █▄▄ ", " █  █", "  ▀▀ "]


@pytest.mark.parametrize("character", sorted(GLYPHS))
def test_every_drawing_is_seven_rows_of_one_width(character: str) -> None:
    rows = GLYPHS[character]
    assert len(rows) == HEIGHT_PX
    assert {len(row) for row in rows} == {len(rows[0])}
    assert set("".join(rows)) <= {"#", "."}


def test_digits_are_equally_wide_so_that_numbers_hold_still() -> None:
    assert {len(GLYPHS[digit][0]) for digit in "0123456789 -"} == {4}


@pytest.mark.parametrize("size", list(Size))
@pytest.mark.parametrize("text", ["24.6", "✓\u2009PASS", "", "1"])
def test_a_drawing_has_the_size_it_says(text: str, size: Size) -> None:
    rows = block_text(text, size)
    assert len(rows) == block_height(size)
    assert {len(row) for row in rows} == {block_width(text, size)}


def test_the_main_value_is_seven_rows_high() -> None:
    assert block_height(Size.FULL) == 7


def test_half_blocks_hold_two_pixels_a_cell() -> None:
    assert [f" {row}" for row in block_text("6", Size.HALF)] == SIX_HALF


def test_plain_ink() -> None:
    assert block_text("1", Size.FULL, ink="#")[0] == "    ##  "


@pytest.mark.parametrize("verdict", sorted(VERDICT_WORDS))
def test_every_verdict_can_be_drawn(verdict: str) -> None:
    assert drawable(VERDICT_WORDS[verdict][0])
    assert drawable(SHAPES[verdict])


def test_no_two_verdicts_share_a_shape() -> None:
    assert len(set(SHAPES.values())) == len(SHAPES)


def test_an_unknown_character_is_told() -> None:
    assert not drawable("Ω")
