"""Addresses where instruments are or may be, a row each, with their trial reading."""

from __future__ import annotations

from textual import events
from textual.message import Message

from tui.dashboard.canvas import Canvas, Line, pad
from tui.view.connect_state import ConnectRow
from tui.view.wrapping import shorten

__all__ = ["ConnectList"]

_WORDS = 24
_WIDE = 100


class ConnectList(Canvas):
    """The list; scrolls so that the cursor can be seen."""

    class Chosen(Message):
        """A row was clicked; ``twice``: with a double click."""

        def __init__(self, index: int, *, twice: bool) -> None:
            super().__init__()
            self.index = index
            self.twice = twice

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._rows: tuple[ConnectRow, ...] = ()
        self._top = 0

    def show(self, rows: tuple[ConnectRow, ...]) -> None:
        """Show the addresses."""
        self._rows = rows
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        at = next((place for place, row in enumerate(self._rows) if row.selected), 0)
        self._top = min(max(self._top, at - height + 1), at, max(len(self._rows) - height, 0))
        return [self._row(row, width) for row in self._rows[self._top : self._top + height]]

    def _row(self, row: ConnectRow, width: int) -> Line:
        words = _WORDS if width < _WIDE else 2 * _WORDS
        room = max(width - 5 - words, 10)
        name = f"{row.address}  {row.name}" if row.name else row.address
        line: Line = [
            (" ▶" if row.selected else "  ", "strong"),
            (f"{row.shape} ", row.tone),
            (f"{shorten(name, room):<{room}} ", "strong" if row.selected else "text"),
            (shorten(row.words, words), row.tone),
        ]
        return [(text, f"{role}-in") for text, role in pad(line, width)] if row.selected else line

    def on_click(self, event: events.Click) -> None:
        """Choose the row that was clicked."""
        index = self._top + event.y
        if index < len(self._rows):
            self.post_message(self.Chosen(index, twice=event.chain >= 2))
