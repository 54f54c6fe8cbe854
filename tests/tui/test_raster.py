"""Dots in cells."""

from __future__ import annotations

import pytest

from tui.dashboard.raster import Raster


def text(raster: Raster, row: int = 0) -> str:
    return "".join(run for run, _ in raster.row(row))


@pytest.mark.parametrize(
    ("x", "y", "braille"),
    [(0, 0, "⠁"), (0, 1, "⠂"), (0, 2, "⠄"), (0, 3, "⡀"), (1, 0, "⠈"), (1, 1, "⠐"), (1, 2, "⠠"), (1, 3, "⢀")],
)
def test_each_dot_has_its_place(x: int, y: int, braille: str) -> None:
    # The Unicode Standard, block Braille Patterns: dots 1-8 are bits 0-7.
    raster = Raster(1, 1)
    raster.dot(x, y, "data")
    assert text(raster) == braille


def test_dots_of_two_roles_share_a_cell_and_the_higher_gives_its_colour() -> None:
    raster = Raster(1, 1)
    raster.dot(0, 0, "data")
    raster.dot(1, 3, "limit")
    assert raster.row(0) == (("⢁", "data"),)


def test_outside_is_left_out() -> None:
    raster = Raster(2, 1)
    for x, y in ((-1, 0), (4, 0), (0, -1), (0, 4)):
        raster.dot(x, y, "data")
    assert raster.row(0) == (("  ", ""),)


def test_dashes() -> None:
    raster = Raster(3, 1)
    raster.level(0, "limit", dash=(2, 2))
    assert text(raster) == "⠉ ⠉"


def test_a_line_reaches_both_ends_without_a_hole() -> None:
    raster = Raster(4, 2, plain=True)
    raster.line((0, 1), (3, 0), "fit")
    assert [text(raster, 0), text(raster, 1)] == ["  //", "//  "]


def test_a_gap_in_a_path_stays_open() -> None:
    raster = Raster(5, 1, plain=True)
    raster.path([(0, 0), (1, 0), None, (4, 0)], "data")
    assert text(raster) == "**  *"


def test_plain_marks_tell_roles_apart() -> None:
    raster = Raster(2, 1, plain=True)
    raster.dot(0, 0, "limit")
    raster.dot(1, 0, "doubt")
    assert raster.row(0) == (("-", "limit"), ("x", "doubt"))
