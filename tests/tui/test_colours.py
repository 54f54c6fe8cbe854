"""The colours as they reach the terminal: each verdict in its own, light and dark from the start, by the key."""

from __future__ import annotations

import itertools

import pytest
from rich.color import ColorType
from rich.segment import Segment
from textual.color import Color, Lab, rgb_to_lab
from textual.widget import Widget

from tests.tui.builders import RecordingControl, StillFeed, health, result, snapshot
from tui.dashboard.app import Dashboard
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.theme import DARK, LIGHT

TONES = {"pass": "good", "fail": "bad", "too_close": "doubt", "no_limit": "quiet", "not_enough_data": "quiet"}
THEMES = {True: LIGHT, False: DARK}


def drawn(app: Dashboard, widget: Widget) -> list[Segment]:
    """What of the widget is on the screen, cell by cell as the terminal gets it."""
    region = widget.region
    strips = app.screen._compositor.render_strips()[region.y : region.bottom]
    return [segment for strip in strips for segment in strip.crop(region.x, region.right) if segment.text]


def ground(segment: Segment) -> Color:
    assert segment.style is not None
    assert segment.style.bgcolor is not None
    assert segment.style.bgcolor.type is ColorType.TRUECOLOR
    return Color.from_rich_color(segment.style.bgcolor)


def ink(segment: Segment) -> Color:
    assert segment.style is not None
    assert segment.style.color is not None
    return Color.from_rich_color(segment.style.color)


def lab(colour: Color) -> Lab:
    return rgb_to_lab(colour)


def apart_without_red_and_green(one: Color, other: Color) -> float:
    """Distance in CIE 1976 L*a*b* with its red-green axis a* left out, as those see it who lack that (from memory)."""
    a, b = lab(one), lab(other)
    return float(((a.L - b.L) ** 2 + (a.b - b.b) ** 2) ** 0.5)


async def verdict_grounds(light: bool) -> dict[str, Color]:
    """The ground behind each verdict, which must be one and the same all over its panel."""
    feed = StillFeed(snapshot())
    screen = RunScreen(feed, RecordingControl())
    app = Dashboard(screen, light=light)
    grounds: dict[str, Color] = {}
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for verdict in TONES:
            feed.snapshot = snapshot(result=result(verdict=verdict))
            screen.tick()
            await pilot.pause()
            cells = drawn(app, screen._verdict)
            (grounds[verdict],) = {ground(cell) for cell in cells}
            (written,) = {ink(cell) for cell in cells if cell.text.strip()}
            assert abs(lab(written).L - lab(grounds[verdict]).L) > 40
    return grounds


@pytest.mark.parametrize("light", [False, True], ids=["dark", "light"])
async def test_each_verdict_stands_on_its_own_colour(light: bool) -> None:
    grounds = await verdict_grounds(light)
    wanted = THEMES[light].variables
    assert {verdict: colour.hex.lower() for verdict, colour in grounds.items()} == {
        verdict: wanted[f"sv-{tone}"] for verdict, tone in TONES.items()
    }
    apart = [grounds[verdict] for verdict in ("pass", "fail", "too_close", "no_limit")]
    assert len(set(apart)) == len(apart)
    assert apart_without_red_and_green(grounds["pass"], grounds["fail"]) > 40


@pytest.mark.parametrize("light", [False, True], ids=["dark", "light"])
def test_good_and_bad_differ_though_red_and_green_are_not_told_apart(light: bool) -> None:
    colours = THEMES[light].variables
    good, bad, doubt = (Color.parse(colours[f"sv-{tone}"]) for tone in ("good", "bad", "doubt"))
    for one, other in itertools.product([good], [bad, doubt]):
        assert apart_without_red_and_green(one, other) > 40
    assert apart_without_red_and_green(Color.parse("#c04040"), Color.parse("#408040")) < 25, (
        "what would be found"
    )


async def test_an_instrument_that_is_lost_is_not_in_the_colour_of_one_that_is_well() -> None:
    screen = RunScreen(
        StillFeed(snapshot(health=(health(), health("text-speed", state="lost")))), RecordingControl()
    )
    app = Dashboard(screen, light=False)
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        screen.tick()
        await pilot.pause()
        inks = {cell.text.strip(): ink(cell).hex.lower() for cell in drawn(app, screen._health)}
    assert (inks["●"], inks["✗"]) == (DARK.variables["sv-good"], DARK.variables["sv-bad"])


@pytest.mark.parametrize(
    ("asked", "variable", "light"),
    [(True, "", True), (False, "", False), (None, "0;15", True), (None, "15;0", False), (None, "", False)],
)
async def test_light_or_dark_from_the_start_and_by_the_key(
    monkeypatch: pytest.MonkeyPatch, asked: bool | None, variable: str, light: bool
) -> None:
    monkeypatch.setenv("COLORFGBG", variable)
    screen = RunScreen(StillFeed(snapshot()), RecordingControl())
    app = Dashboard(screen, light=asked)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for now in (light, not light, light):
            assert app.theme == THEMES[now].name
            (behind,) = {ground(cell).hex.lower() for cell in drawn(app, screen._speed)}
            assert behind == THEMES[now].background
            await pilot.press("l")
            await pilot.pause()
