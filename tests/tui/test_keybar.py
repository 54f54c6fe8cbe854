"""The row of keys: what fits, what is clicked, and that palette and explanation know the same actions."""

from __future__ import annotations

import pytest

from tests.tui.builders import RecordingControl, StillFeed, snapshot
from tests.tui.screen_text import screen_rows, screen_text, shown_screen, wait_until
from tui.dashboard.help_screen import HelpScreen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.widgets.keybar import KeyHint, fitting

HINTS = tuple(KeyHint(key, key, label) for key, label in (("q", "leave"), ("m", "mark"), ("?", "help")))


@pytest.mark.parametrize(
    ("width", "seen"), [(40, "qm?"), (24, "qm?"), (23, "q?"), (16, "q?"), (15, "m?"), (14, "?"), (3, "?")]
)
def test_the_last_key_is_always_seen_since_it_explains_the_others(width: int, seen: str) -> None:
    placed = fitting(HINTS, width)
    assert "".join(hint.key for _, hint in placed) == seen
    assert [at for at, _ in placed] == sorted(at for at, _ in placed)


def run_screen() -> tuple[RunScreen, RecordingControl]:
    control = RecordingControl()
    return RunScreen(StillFeed(snapshot()), control), control


async def test_a_click_on_a_key_does_what_the_key_does() -> None:
    screen, control = run_screen()
    async with shown_screen(screen) as (app, pilot):
        await wait_until(app, pilot, "m mark")
        row = screen_rows(app)[-1]
        await pilot.click("#keys", offset=(row.index("mark") + 1, 0))
        await pilot.pause()
        assert control.marks == ["mark 1"]
        await pilot.click("#keys", offset=(row.index("help"), 0))
        await pilot.pause()
        assert isinstance(app.screen, HelpScreen)


async def test_every_action_has_a_key_a_label_and_a_place_in_the_palette() -> None:
    screen, _ = run_screen()
    async with shown_screen(screen, (120, 40)) as (app, pilot):
        commands = {command.title: command.help for command in app.get_system_commands(screen)}
        for active in screen.active_bindings.values():
            binding = active.binding
            if binding.id and active.enabled:
                assert binding.tooltip
                assert any(title.startswith(binding.description.capitalize()) for title in commands)
        assert commands["Mark (m)"] == "Write a mark into the recording"
        await pilot.press("question_mark")
        await pilot.pause()
        explained = screen_text(app)
    assert all(words in explained for words in ("Write a mark into the recording", "Plain ASCII", "^p"))


async def test_the_palette_does_what_the_key_does() -> None:
    screen, control = run_screen()
    async with shown_screen(screen, (120, 40)) as (app, pilot):
        await pilot.press("ctrl+p")
        await pilot.pause(0.2)
        await pilot.press(*"mark")
        await wait_until(app, pilot, "Mark (m)")
        await pilot.pause(0.2)
        await pilot.press("enter")
        await pilot.pause(0.2)
        if not control.marks:
            await pilot.press("enter")
            await pilot.pause(0.2)
    assert control.marks == ["mark 1"]
