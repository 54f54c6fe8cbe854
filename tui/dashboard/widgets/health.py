"""A row for each instrument: how old its newest reading is, its rate, what went wrong."""

from __future__ import annotations

from textual.geometry import Size

from tui.dashboard.canvas import Canvas, Line, pad
from tui.view.state import HealthView
from tui.view.wrapping import shorten

__all__ = ["HealthRows"]

_LEAST_NOTE = 8


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
        lines = [self._row(view, width) for view in self._views[:height]]
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
            name = shorten(view.name, max(columns - 5, 0))
            part: Line = [(f" {view.shape} ", view.tone), (f"{name}  ", "text")]
            part.append((_whole(words, columns - len(name) - 5), "dim"))
            row += pad(part, columns)
        return row

    @property
    def _name_columns(self) -> int:
        return max([13, *(len(view.name) + 1 for view in self._views)])

    def _row(self, view: HealthView, width: int) -> Line:
        """What has no room is left out whole: what is wrong comes before the counts."""
        row: Line = [
            (f" {view.shape} ", view.tone),
            (f"{view.name:<{self._name_columns}}", "text"),
            (f"{view.state:<8}", view.tone),
            (f"{view.age:>11}", "text"),
            (f"{view.rate:>9}", "text"),
        ]
        room = width - sum(len(text) for text, _ in row) - 2
        if room < (_LEAST_NOTE if view.note else 0):
            return self._narrow_row(view, width)
        if not view.note:
            return [*row, (f"  {_first_that_fits((view.counts, view.bad), room)}", "dim")]
        if len(view.counts) + 2 + len(view.note) <= room:
            return [*row, (f"  {view.counts}", "dim"), (f"  {view.note}", view.tone)]
        return [*row, (f"  {shorten(view.note, room)}", view.tone)]

    def _narrow_row(self, view: HealthView, width: int) -> Line:
        name = shorten(view.name, max(width - 5, 0))
        words = _whole([view.state, view.age, view.rate], width - len(name) - 5)
        return [(f" {view.shape} ", view.tone), (f"{name}  ", "text"), (words, view.tone)]


def _first_that_fits(texts: tuple[str, ...], columns: int) -> str:
    return next((text for text in texts if len(text) <= columns), "")


def _whole(words: list[str], columns: int) -> str:
    """As many of the words as fit, each whole."""
    text = ""
    for word in words:
        longer = f"{text}  {word}" if text else word
        if len(longer) > columns:
            break
        text = longer
    return text
