"""The scrub line: where a replay is, and where the speed was in the window. A click or a pull goes there."""

from __future__ import annotations

from textual import events
from textual.message import Message

from tui.dashboard.canvas import Canvas, Line
from tui.view.scrub import Kind, ScrubView, cell_of, cells, time_at

__all__ = ["Scrub"]

_LOOKS: dict[Kind, tuple[str, str, str]] = {
    "in": ("█", "#", "good"),
    "out": ("─", "-", "dim"),
    "none": ("·", ".", "rule"),
}
_TIME_COLUMNS = 8


class Scrub(Canvas):
    """Two rows: the state with the marker above, the line below."""

    class Sought(Message):
        """A time was pointed at."""

        def __init__(self, time_s: float) -> None:
            super().__init__()
            self.time_s = time_s

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._view: ScrubView | None = None
        self._pulled = False
        self._cells: tuple[object, int, list[Kind]] = (None, 0, [])

    def show(self, view: ScrubView) -> None:
        """Show a place."""
        if view == self._view:
            return
        self._view = view
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        view = self._view
        if view is None or height < 2:
            return []
        columns = self._columns(width)
        at = cell_of(view.share, columns)
        marker = "V" if self.plain else "▼"
        words = f"{view.state}, in the window: {'#' if self.plain else '█'}"
        above: Line = [(" " * (_TIME_COLUMNS + 1 + at), "text"), (marker, "strong")]
        room = at - 1
        if len(words) <= room:
            above = [
                (" " * (_TIME_COLUMNS + 1), "text"),
                (words, "dim"),
                (" " * (at - len(words)), "text"),
                (marker, "strong"),
            ]
        elif len(words) + 2 < columns - at:
            above += [(f"  {words}", "dim")]
        line: Line = [(f"{view.position:>{_TIME_COLUMNS}} ", "text"), *self._line(view, columns)]
        return [above, [*line, (f" {view.length}", "dim")]]

    def _columns(self, width: int) -> int:
        return max(width - 2 * _TIME_COLUMNS - 2, 4)

    def _line(self, view: ScrubView, columns: int) -> Line:
        if self._cells[0] is not view.speed or self._cells[1] != columns:
            self._cells = (view.speed, columns, cells(view.speed, columns))
        line: Line = []
        for kind in self._cells[2]:
            drawn, plain, role = _LOOKS[kind]
            mark = plain if self.plain else drawn
            if line and line[-1][1] == role:
                line[-1] = (line[-1][0] + mark, role)
            else:
                line.append((mark, role))
        return line

    def _point(self, x: int) -> None:
        view = self._view
        if view is not None and view.speed is not None:
            columns = self._columns(self.size.width)
            self.post_message(self.Sought(time_at(x - _TIME_COLUMNS - 1, columns, view.speed.length_s)))

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """Go there, and follow the mouse."""
        self._pulled = True
        self.capture_mouse()
        self._point(event.x)

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """Follow the mouse while it is pressed."""
        if self._pulled:
            self._point(event.x)

    def on_mouse_up(self, event: events.MouseUp) -> None:
        """Let go."""
        self._pulled = False
        self.release_mouse()
