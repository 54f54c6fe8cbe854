"""A row for each instrument: how old its newest reading is, its rate, what went wrong."""

from __future__ import annotations

from textual.geometry import Size

from tui.dashboard.canvas import Canvas, Line, pad
from tui.view.state import HealthView

__all__ = ["HealthRows"]


class HealthRows(Canvas):
    """The health of the instruments: a row for each, or all in one row where there is no more room."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._views: tuple[HealthView, ...] = ()

    def show(self, views: tuple[HealthView, ...]) -> None:
        """Show the instruments."""
        if views == self._views:
            return
        grown = len(views) != len(self._views)
        self._views = views
        if grown:
            self.refresh(layout=True)
        self.repaint()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """A row for each instrument, where the style sheet leaves the height to the content."""
        return max(len(self._views), 2)

    def paint(self, width: int, height: int) -> list[Line]:
        if height == 1:
            return [self._all_in_one(width)]
        lines = [self._row(view) for view in self._views[:height]]
        hidden = len(self._views) - height
        if hidden > 0 and lines:
            lines[-1] = [*lines[-1], (f"  and {hidden} more", "dim")]
        return lines

    def _all_in_one(self, width: int) -> Line:
        row: Line = []
        columns = width // max(len(self._views), 1)
        for view in self._views:
            words = (
                [view.age, view.rate, view.bad] if view.state == "ok" else [view.state, view.age or view.bad]
            )
            part: Line = [
                (f" {view.shape} ", view.tone),
                (f"{view.name}  ", "text"),
                ("  ".join(words), "dim"),
            ]
            row += pad(part, columns)
        return row

    def _row(self, view: HealthView) -> Line:
        row: Line = [
            (f" {view.shape} ", view.tone),
            (f"{view.name:<13}", "text"),
            (f"{view.state:<8}", view.tone),
            (f"{view.age:>11}", "text"),
            (f"{view.rate:>9}", "text"),
            (f"  {view.counts}", "dim"),
        ]
        return [*row, (f"  {view.note}", view.tone)] if view.note else row
