"""A plot in braille dots, or in ASCII: trace and scatter alike."""

from __future__ import annotations

from tui.dashboard.canvas import Canvas, Line
from tui.dashboard.grid import plot_rows
from tui.view.state import PlotView

__all__ = ["Plot"]


class Plot(Canvas):
    """Title, value axis, grid of dots, time axis."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._view: PlotView | None = None

    def show(self, view: PlotView) -> None:
        """Show a plot."""
        self._view = view
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        return [] if self._view is None else plot_rows(self._view, width, height, plain=self.plain)
