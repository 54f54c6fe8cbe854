"""A plot's values in cells, with its axes."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tui.dashboard.grid import LABEL_COLUMNS, Grid, plot_rows
from tui.view.state import Band, Level, PlotView, Series, Tick

# Ten columns and eleven rows, so that in ASCII a step of 1 is a column, and a step of 10 a row.
VIEW = PlotView(
    title="volts, V",
    x_low=0.0,
    x_high=9.0,
    x_ticks=(Tick(0.0, "0"), Tick(9.0, "9")),
    y_low=0.0,
    y_high=100.0,
    y_ticks=(Tick(0.0, "0"), Tick(50.0, "50"), Tick(100.0, "100")),
    series=(Series("data", (0.0, 4.0, 9.0, 10.0), (0.0, 50.0, 100.0, 50.0)),),
)


def drawn(view: PlotView) -> list[str]:
    return ["".join(text for text, _ in Grid(view, 10, 11, plain=True).row(row)) for row in range(11)]


def test_a_value_is_in_its_cell_and_one_beyond_the_axis_in_none() -> None:
    rows = drawn(VIEW)
    assert rows[0] == "         *"
    assert rows[5] == "    *     "
    assert rows[10] == "*         "
    assert "".join(rows).count("*") == 3


def test_the_same_in_braille_is_eight_times_as_fine() -> None:
    grid = Grid(VIEW, 10, 11)
    assert (grid.raster.dots_x, grid.raster.dots_y) == (20, 44)
    assert grid.row(0)[-1] == ("⠈", "data")
    assert grid.row(10)[0] == ("⡀", "data")


@pytest.mark.parametrize(
    ("levels", "labels"),
    [
        ((), {0: "100", 5: "50", 10: "0"}),
        ((Level(60.0, "limit", "limit"),), {0: "100", 4: "limit", 10: "0"}),
        ((Level(200.0, "limit", "limit"),), {0: "100", 5: "50", 10: "0"}),
    ],
)
def test_a_level_is_named_before_a_tick_beside_it(levels: tuple[Level, ...], labels: dict[int, str]) -> None:
    grid = Grid(replace(VIEW, levels=levels), 10, 11, plain=True)
    assert {row: label for row, label in enumerate(grid.row_labels()) if label} == labels


@pytest.mark.parametrize(
    ("band", "rows"),
    [
        (Band(38.0, 62.0), [4, 5, 6]),
        (Band(101.0, 110.0), []),
        (Band(95.0, 300.0), [0]),
        (Band(-9.0, 4.0), [10]),
    ],
)
def test_the_band_lies_behind_the_rows_whose_centre_is_in_it(band: Band, rows: list[int]) -> None:
    grid = Grid(replace(VIEW, band=band), 10, 11, plain=True)
    seen = [row for row in range(11) if all(role.endswith("in") for _, role in grid.row(row))]
    assert seen == rows


@pytest.mark.parametrize("scrolls", [True, False])
def test_a_moving_axis_moves_by_whole_dots(scrolls: bool) -> None:
    """Readings keep their places relative to each other, wherever the newest moment lies; else they tremble."""
    series = (Series("data", (10.2, 13.4, 14.9, 18.7), (50.0,) * 4),)
    seen = set()
    for tenth in range(10):
        now = 20.0 + tenth / 10
        view = replace(VIEW, x_low=now - 19.5, x_high=now, scrolls=scrolls, series=series)
        seen.add("".join(text for text, _ in Grid(view, 40, 11, plain=True).row(5)).strip())
    assert (len(seen) == 1) is scrolls, seen


def test_a_gap_in_a_line_stays_open() -> None:
    line = Series("after", (0.0, 3.0, 6.0, 9.0), (50.0, 50.0, math.nan, 50.0), joined=True)
    assert drawn(replace(VIEW, series=(line,)))[5] == "****     *"


def test_rows_are_title_grid_and_time_axis() -> None:
    rows = [
        "".join(text for text, _ in row) for row in plot_rows(VIEW, 10 + LABEL_COLUMNS + 1, 13, plain=True)
    ]
    assert rows[0] == " volts, V"
    assert rows[1] == "   100┤         *"
    assert rows[11] == "     0┤*         "
    assert rows[12] == "       0        9"
    assert plot_rows(VIEW, 15, 13) == []
    assert plot_rows(VIEW, 40, 3) == []
