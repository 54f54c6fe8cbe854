"""A plot's values on a raster of dots, with its axes: rows of (text, role). No screen in it."""

from __future__ import annotations

import math

from tui.dashboard.raster import Raster
from tui.view.state import PlotView, Series

__all__ = ["LABEL_COLUMNS", "Grid", "plot_rows"]

LABEL_COLUMNS = 7
"""Room for a value's label and the axis."""
_LEAST_COLUMNS, _LEAST_ROWS = 8, 2
_DASHES = {"fit": (1, 5), "before": (2, 3), "after": (1, 0)}
_SERIES_DASHES = {"before": (2, 4)}

Row = list[tuple[str, str]]


def plot_rows(view: PlotView, width: int, height: int, *, plain: bool = False) -> list[Row]:
    """Title, value axis, grid of dots, time axis; nothing where there is no room for them.

    Args:
        view: what is plotted.
        width: columns of text.
        height: rows of text.
        plain: ASCII only.
    """
    columns, rows = width - LABEL_COLUMNS - 1, height - 2
    if columns < _LEAST_COLUMNS or rows < _LEAST_ROWS:
        return []
    grid = Grid(view, columns, rows, plain=plain)
    lines: list[Row] = [[(f" {view.title}", "text"), ("   " + view.empty if view.empty else "", "doubt")]]
    for row, label in enumerate(grid.row_labels()):
        lines.append(
            [(f"{label:>{LABEL_COLUMNS - 1}}", "dim"), ("┤" if label else "│", "rule"), *grid.row(row)]
        )
    return [*lines, [(" " * LABEL_COLUMNS, "text"), (grid.time_labels(), "dim")]]


class Grid:
    """A plot's values on a raster of dots.

    Attributes:
        raster: the dots.
    """

    def __init__(self, view: PlotView, columns: int, rows: int, *, plain: bool = False) -> None:
        self.raster = Raster(columns, rows, plain=plain)
        self._view = view
        self._columns, self._rows = columns, rows
        dots_x, dots_y = self.raster.dots_x, self.raster.dots_y
        per_dot = (view.x_high - view.x_low) / (dots_x - 1)
        # A moving axis moves by whole dots, or every dot would tremble at every refresh.
        high = math.ceil(view.x_high / per_dot) * per_dot if view.scrolls else view.x_high
        self._x_low = high - per_dot * (dots_x - 1)
        self._per_x = 1 / per_dot
        self._per_y = (dots_y - 1) / (view.y_high - view.y_low)
        self._draw()

    def row(self, index: int) -> Row:
        """One row of cells, with those within the band marked as such."""
        runs = self.raster.row(index)
        if index not in self._band_rows():
            return [(text, role or "text") for text, role in runs]
        return [(text, f"{role}-in" if role else "in") for text, role in runs]

    def _band_rows(self) -> range:
        band = self._view.band
        if band is None or band.high < self._view.y_low or band.low > self._view.y_high:
            return range(0)
        return range(self._first_centre(band.high), self._first_centre(band.low))

    def _first_centre(self, value: float) -> int:
        """The first row of cells whose centre lies at or below a value."""
        per_cell = self.raster.dots_y / self._rows
        dots = (self._view.y_high - value) * self._per_y
        return max(math.ceil((dots - (per_cell - 1) / 2) / per_cell), 0)

    def row_labels(self) -> list[str]:
        """The label of each row of cells."""
        labels = [""] * self._rows
        for level in self._view.levels:
            if self._view.y_low <= level.value <= self._view.y_high:
                labels[self._cell_row(level.value)] = level.label
        for tick in self._view.y_ticks:
            row = self._cell_row(tick.value)
            if not any(labels[max(row - 1, 0) : row + 2]):
                labels[row] = tick.label
        return labels

    def time_labels(self) -> str:
        """The row below the grid."""
        view, row = self._view, [" "] * self._columns
        span = view.x_high - view.x_low
        for tick in view.x_ticks:
            centre = round((tick.value - view.x_low) / span * (self._columns - 1))
            start = min(max(centre - len(tick.label) // 2, 0), self._columns - len(tick.label))
            if all(cell == " " for cell in row[max(start - 1, 0) : start + len(tick.label) + 1]):
                row[start : start + len(tick.label)] = tick.label
        return "".join(row)

    def _draw(self) -> None:
        view, raster = self._view, self.raster
        if view.band is not None:
            for edge in view.band:
                raster.level(self._y(edge), "band", dash=(1, 1))
        for level in view.levels:
            raster.level(self._y(level.value), level.role, dash=_DASHES.get(level.role, (4, 2)))
        for series in view.series:
            self._draw_series(series)

    def _draw_series(self, series: Series) -> None:
        if series.joined:
            points = [self._point(x, y) for x, y in zip(series.xs, series.ys, strict=True)]
            self.raster.path(points, series.role, dash=_SERIES_DASHES.get(series.role, (1, 0)))
            return
        left, per_x, top, per_y = self._x_low, self._per_x, self._view.y_high, self._per_y
        places = [((x - left) * per_x, (top - y) * per_y) for x, y in zip(series.xs, series.ys, strict=True)]
        self.raster.dots(places, series.role)

    def _point(self, x: float, y: float) -> tuple[int, int] | None:
        if not math.isfinite(y):
            return None
        return math.floor((x - self._x_low) * self._per_x + 0.5), self._y(y)

    def _y(self, value: float) -> int:
        return math.floor((self._view.y_high - value) * self._per_y + 0.5)

    def _cell_row(self, value: float) -> int:
        dot = min(max(self._y(value), 0), self.raster.dots_y - 1)
        return dot * self._rows // self.raster.dots_y
