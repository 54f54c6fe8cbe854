"""The bar of the speed guide in columns."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tui.view.speed_bar import SpeedBar, speed_bar
from tui.view.state import SpeedView

VIEW = SpeedView("3600", "rpm", "hold", "", "", "good", 0.0, 0.2, "2100", "3500", "3700", "5100")
SIGNS = {"outside": "-", "to go": "=", "low edge": "[", "inside": "~", "rated": "|", "high edge": "]"}


def bar(place: float | None, columns: int = 61) -> SpeedBar:
    laid = speed_bar(replace(VIEW, place=place), columns)
    assert laid is not None
    return laid


def text(laid: SpeedBar) -> str:
    return "".join(SIGNS[part] * columns for part, columns, _ in laid.runs)


@pytest.mark.parametrize(
    ("place", "needle", "seen"),
    [
        (0.0, 30, "-" * 24 + "[~~~~~|~~~~~]" + "-" * 24),
        (None, None, "-" * 24 + "[~~~~~|~~~~~]" + "-" * 24),
        (-1.0, 0, "=" * 24 + "[~~~~~|~~~~~]" + "-" * 24),
        (-0.5, 15, "-" * 15 + "=" * 9 + "[~~~~~|~~~~~]" + "-" * 24),
        (1.0, 60, "-" * 24 + "[~~~~~|~~~~~]" + "=" * 24),
    ],
)
def test_what_is_left_to_go_is_marked(place: float | None, needle: int | None, seen: str) -> None:
    laid = bar(place)
    assert laid.needle == needle
    assert text(laid) == seen


def test_labels_stand_below_what_they_name() -> None:
    labels = bar(0.0).labels
    assert len(labels) == 61
    assert (labels.index("2100"), labels.index("5100")) == (0, 57)
    assert (labels.index("3500"), labels.index("3700")) == (22, 34)


@pytest.mark.parametrize("columns", range(10, 90))
def test_it_is_as_long_as_was_asked(columns: int) -> None:
    for place in (None, -1.0, -0.21, -0.2, 0.0, 0.2, 0.21, 1.0):
        laid = bar(place, columns)
        assert len(text(laid)) == len(laid.labels) == columns
        assert set(laid.labels.split()) <= {"2100", "3500", "3700", "5100"}, "whole, or not at all"


def test_without_a_window_there_is_none() -> None:
    assert speed_bar(replace(VIEW, window=None), 60) is None
