"""Speed against its window."""

from __future__ import annotations

import math

import pytest

from daq.model.reading import Quality
from daq.run.snapshot import ChannelNow
from tests.tui.builders import MACHINE
from tui.view.speed import bar_place, speed_view


def now(value: float | None, age_s: float = 0.1, quality: Quality = Quality.GOOD) -> ChannelNow:
    return ChannelNow("rpm", value, quality, age_s)


@pytest.mark.parametrize(
    ("speed_rpm", "action", "to_go", "tone"),
    [
        (0.0, "start the engine", "3600 rpm to go", "doubt"),
        (1900.0, "more throttle", "1700 rpm to go", "doubt"),
        (3360.0, "a little more throttle", "240 rpm to go", "doubt"),
        (3499.0, "a little more throttle", "100 rpm to go", "doubt"),
        (3500.0, "hold", "", "good"),
        (3600.0, "hold", "", "good"),
        (3700.0, "hold", "", "good"),
        (3784.0, "a little less throttle", "180 rpm to go", "doubt"),
        (4200.0, "less throttle", "600 rpm to go", "doubt"),
    ],
)
def test_what_to_do(speed_rpm: float, action: str, to_go: str, tone: str) -> None:
    view = speed_view(now(speed_rpm), MACHINE)
    assert (view.action, view.to_go, view.tone) == (action, to_go, tone)


@pytest.mark.parametrize(
    "channel",
    [None, now(None), now(3600.0, age_s=4.0), now(3600.0, quality=Quality.LOW_BATTERY), now(math.nan)],
)
def test_a_speed_that_is_not_known_is_not_shown(channel: ChannelNow | None) -> None:
    view = speed_view(channel, MACHINE)
    assert (view.digits, view.place, view.action) == ("----", None, "no speed")


def test_digits_keep_their_width() -> None:
    assert [speed_view(now(value), None).digits for value in (4.0, 940.0, 3604.4)] == ["   4", " 940", "3604"]


def test_without_a_machine_there_is_no_window() -> None:
    view = speed_view(now(3600.0), None)
    assert view.window is None
    assert view.place is None
    assert "no machine card" in view.action


@pytest.mark.parametrize(
    ("away_rpm", "place"), [(0.0, 0.0), (1500.0, -1.0), (375.0, -0.5), (-375.0, 0.5), (9000.0, -1.0)]
)
def test_the_bar_opens_up_near_rated_speed(away_rpm: float, place: float) -> None:
    assert bar_place(away_rpm) == pytest.approx(place)


def test_the_labels_name_the_ends_and_the_window() -> None:
    view = speed_view(now(3600.0), MACHINE)
    assert (view.low, view.low_edge, view.high_edge, view.high) == ("2100", "3500", "3700", "5100")


@pytest.mark.parametrize(
    ("speed_rpm", "arrows"),
    [
        (1900.0, "▶▶▶"),
        (2900.0, "▶▶"),
        (3400.0, "▶"),
        (3600.0, ""),
        (3790.0, "◀"),
        (4200.0, "◀◀"),
        (4700.0, "◀◀◀"),
    ],
)
def test_the_arrows_ease_as_the_window_nears(speed_rpm: float, arrows: str) -> None:
    assert speed_view(now(speed_rpm), MACHINE).arrows == arrows
