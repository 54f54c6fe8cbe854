"""The block letters: sizes, shapes, and that everything the screen spells can be drawn."""

from __future__ import annotations

import pytest

from tui.dashboard.blockfont import Size, block_height, block_text, block_width, drawable
from tui.dashboard.blockglyphs import GLYPHS, HEIGHT_PX
from tui.view.verdict import ENDED_SHAPES, ENDED_WORDS, SHAPES, VERDICT_WORDS

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
    assert drawable(ENDED_WORDS[verdict][0])
    assert drawable(ENDED_SHAPES[verdict])


def test_no_two_verdicts_share_a_shape() -> None:
    assert len(set(SHAPES.values())) == len(SHAPES)
    assert len(set(ENDED_SHAPES.values()) | set(SHAPES.values())) == len(SHAPES) + 1


def test_an_unknown_character_is_told() -> None:
    assert not drawable("Ω")


@pytest.mark.parametrize("plain", [False, True], ids=["drawn", "plain"])
@pytest.mark.parametrize("digits", ["27.58", "16.52", " 9.8", "24.6", "8.88", "118.4"])
def test_the_main_value_has_its_unit_and_its_uncertainty_whole_beside_it(digits: str, plain: bool) -> None:
    from tui.dashboard.widgets.rated import RatedOutput
    from tui.view.state import RatedView

    widget = RatedOutput()
    widget.plain = plain
    widget.show(RatedView(digits, "V", "± 0.08 V", "at 3600 rpm, unloaded"))
    width, height = 54, 8
    rows = ["".join(text for text, _ in line) for line in widget.paint(width, height)]
    assert len(rows) == height
    assert all(len(row) <= width for row in rows)
    assert any(row.endswith("+/- 0.08 V" if plain else "± 0.08 V") for row in rows)
    if len(digits) <= 5 and digits != "118.4":
        assert sum("██" in row or "##" in row for row in rows) == 7
