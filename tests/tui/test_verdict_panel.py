"""The verdict from two metres: its word and its shape in blocks at every usual size, and nothing cut beside them."""

from __future__ import annotations

import pytest

from tests.tui.blocks import stands_in_blocks as stands
from tests.tui.builders import CLOSED, RecordingControl, StillFeed, empty_snapshot, result, snapshot
from tests.tui.screen_text import screen_rows, shown_screen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.widgets.verdict import VerdictPanel
from tui.view.state import VerdictView
from tui.view.verdict import ENDED_SHAPES, ENDED_WORDS, SHAPES, VERDICT_WORDS, verdict_view

LEFT = {(80, 24): 54, (120, 40): 56, (200, 60): 110}
TOP = {(80, 24): (1, 9), (120, 40): (1, 13), (200, 60): (1, 19)}


@pytest.mark.parametrize("size", LEFT, ids=str)
@pytest.mark.parametrize("verdict", VERDICT_WORDS)
@pytest.mark.parametrize("ended", [False, True])
async def test_word_and_shape_are_in_blocks(verdict: str, size: tuple[int, int], ended: bool) -> None:
    told = result(verdict=verdict)
    if verdict == "not_enough_data":
        told = result(verdict=verdict, rated_voltage_V=None, conformance_probability=None)
    state = snapshot(result=told)
    if ended:
        state = snapshot(result=told, finished=True, close=CLOSED)
    screen = RunScreen(StillFeed(state), RecordingControl())
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        await pilot.pause()
        first, last = TOP[size]
        panel = [row[LEFT[size] :] for row in screen_rows(app)[first:last]]
    words, shapes = (ENDED_WORDS, ENDED_SHAPES) if ended else (VERDICT_WORDS, SHAPES)
    assert stands(shapes[verdict], panel), "\n".join(panel)
    # A word of two parts may stand in two lines.
    whole = stands(words[verdict][0], panel)
    assert whole or all(stands(part, panel) for part in words[verdict][0].split()), "\n".join(panel)


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("height", [4, 6, 8, 9, 16])
def test_no_sentence_is_cut_where_there_is_room_for_the_panel(height: int, plain: bool) -> None:
    for width in (*range(20, 40), 48, 64, 90):
        nothing_is_cut(width, height, plain=plain)


def nothing_is_cut(width: int, height: int, *, plain: bool) -> None:
    for told in (result(), result(verdict="fail"), result(verdict="too_close"), result(verdict="no_limit")):
        view = verdict_view(told, ended=True)
        rows = painted(view, width, height, plain=plain)
        assert len(rows) == height
        assert {len(row) for row in rows} == {width}
        text = " ".join(" ".join(rows).split())
        if width >= 24 and height >= 6 and view.word != "NO LIMIT":
            assert view.words.split()[-1] in text


def painted(view: VerdictView, width: int, height: int, *, plain: bool) -> list[str]:
    panel = VerdictPanel()
    panel.plain = plain
    panel._view = view
    return ["".join(text for text, _ in line) for line in panel.paint(width, height)]


def test_before_the_first_reading_it_says_so_whole() -> None:
    view = verdict_view(empty_snapshot().result)
    text = " ".join(painted(view, 26, 8, plain=False))
    for word in ("not", "enough", "data", "yet", "limit", "at least", "20.0 V"):
        assert word in text
