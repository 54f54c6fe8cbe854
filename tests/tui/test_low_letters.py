"""Words five rows high in plain ASCII: what the verdict is drawn with on a small terminal that has nothing else."""

from __future__ import annotations

import pytest

from tests.tui.builders import RecordingControl, StillFeed, result, snapshot
from tests.tui.screen_text import screen_rows, shown_screen
from tui.dashboard.lowdigits import LOW_LETTERS, LOW_ROWS, LOW_SHAPES, low_drawable, low_text
from tui.dashboard.run_screen import RunScreen
from tui.view.verdict import ENDED_SHAPES, SHAPES, VERDICT_WORDS

LOW_ALL = {**LOW_LETTERS, **LOW_SHAPES}


def test_every_shape_of_a_verdict_has_a_drawing() -> None:
    assert {*SHAPES.values(), *ENDED_SHAPES.values()} <= set(LOW_SHAPES)


@pytest.mark.parametrize("character", LOW_ALL)
def test_every_drawing_is_of_five_equal_rows(character: str) -> None:
    glyph = LOW_ALL[character]
    assert len(glyph) == LOW_ROWS
    assert len({len(row) for row in glyph}) == 1
    assert set("".join(glyph)) <= {"#", "."}


def test_no_two_are_drawn_alike() -> None:
    assert len(set(LOW_ALL.values())) == len(LOW_ALL)


@pytest.mark.parametrize(
    ("verdict", "word"), [(verdict, words[0]) for verdict, words in VERDICT_WORDS.items()]
)
async def test_a_verdict_is_large_in_plain_too(verdict: str, word: str) -> None:
    state = snapshot(result=result(verdict=verdict))
    screen = RunScreen(StillFeed(state), RecordingControl())
    async with shown_screen(screen, plain=True) as (app, pilot):
        screen.tick()
        await pilot.pause()
        panel = [row[54:] for row in screen_rows(app)[1:9]]
    if not low_drawable(word) or len(low_text(word)[0]) > 25:
        assert any(word in row for row in panel)
        return
    both = f"{SHAPES[verdict]}{word}"
    if len(low_text(both)[0]) > 25:
        assert verdict == "too_close", "its word fills the panel; all others have their shape beside them"
        both = word
    drawn = [row.strip() for row in low_text(both)]
    assert [row.strip() for row in panel[:LOW_ROWS]] == drawn
    assert VERDICT_WORDS[verdict][1] in panel[LOW_ROWS]
