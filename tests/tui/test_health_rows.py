"""The instruments' rows: what has no room is left out whole, so that no number loses its unit."""

from __future__ import annotations

import pytest

from tui.dashboard.widgets.health import HealthRows
from tui.view.state import HealthView

OK = HealthView(
    "scpi-meter", "0.1 s ago", "9.9/s", "0 bad", "448 readings, 0 bad frames", "ok", "●", "good", ""
)
LOST = HealthView(
    "text-speed", "7.0 s ago", "", "2 bad", "90 readings, 2 bad frames", "lost", "✗", "bad",
    "/dev/ttyUSB0 is gone: plug it in again.",
)  # fmt: skip
LONG = HealthView(
    "a-card-with-a-long-name",
    "0.1 s ago",
    "9.9/s",
    "0 bad",
    "448 readings, 0 bad frames",
    "ok",
    "●",
    "good",
    "",
)


def text(*views: HealthView, width: int, height: int) -> list[str]:
    rows = HealthRows()
    rows._views = views
    return ["".join(part for part, _ in line).rstrip() for line in rows.paint(width, height)]


@pytest.mark.parametrize(
    ("width", "tail"),
    [(72, "  448 readings, 0 bad frames"), (71, "  0 bad"), (51, "  0 bad"), (50, "")],
)
def test_counts_are_whole_short_or_left_out(width: int, tail: str) -> None:
    (row,) = text(OK, width=width, height=3)
    assert row == f" ● scpi-meter   ok        0.1 s ago    9.9/s{tail}"


@pytest.mark.parametrize(
    ("width", "tail"),
    [
        (120, "  90 readings, 2 bad frames  /dev/ttyUSB0 is gone: plug it in again."),
        (100, "  /dev/ttyUSB0 is gone: plug it in again."),
        (71, "  /dev/ttyUSB0 is gone: ..."),
    ],
)
def test_what_is_wrong_comes_before_the_counts(width: int, tail: str) -> None:
    (row,) = text(LOST, width=width, height=3)
    assert row == f" ✗ text-speed   lost      7.0 s ago         {tail}"


def _shortened(word: str, whole: list[str]) -> bool:
    """A name may be shortened, and says so."""
    return word.endswith("...") and any(each.startswith(word[:-3]) for each in whole)


@pytest.mark.parametrize("width", range(40, 130))
def test_nothing_is_cut_within_a_word(width: int) -> None:
    whole = " ".join(
        [*(word for view in (OK, LOST, LONG) for word in " ".join(
            (view.shape, view.name, view.age, view.rate, view.bad, view.counts, view.state, view.note)
        ).split()), "..."]
    ).split()  # fmt: skip
    for height in (1, 4):
        for row in text(OK, LOST, LONG, width=width, height=height):
            assert len(row) <= width
            assert all(word in whole or _shortened(word, whole) for word in row.split()), row
            for number, word in zip(row.split(), row.split()[1:], strict=False):
                assert not number.replace(".", "").isdigit() or word in {"s", "readings,", "bad"}, row
