"""The tests of a job, a row each, with their state in a shape and a word."""

from __future__ import annotations

from textual import events
from textual.message import Message

from tui.dashboard.canvas import Canvas, Line, pad
from tui.view.job_state import StepRow
from tui.view.wrapping import shorten

__all__ = ["StepList"]

_FEWEST_WORDS = 4
"""Also the most that the short words have."""
_MARKS = 4


class StepList(Canvas):
    """The list; scrolls so that the chosen test can be seen."""

    class Chosen(Message):
        """A row was clicked."""

        def __init__(self, name: str) -> None:
            super().__init__()
            self.name = name

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._rows: tuple[StepRow, ...] = ()
        self._top = 0

    def show(self, rows: tuple[StepRow, ...]) -> None:
        """Show the tests."""
        self._rows = rows
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        at = next((place for place, row in enumerate(self._rows) if row.chosen), 0)
        self._top = min(max(self._top, at - height + 1), at, max(len(self._rows) - height, 0))
        title, full = self._columns(width)
        return [
            self._row(row, width, title, row.words if full else row.short)
            for row in self._rows[self._top : self._top + height]
        ]

    def _columns(self, width: int) -> tuple[int, bool]:
        """Columns of the names, and whether the full words fit beside them; a name matters more than its word."""
        longest = max([0, *(len(row.title) for row in self._rows)])
        words = max([_FEWEST_WORDS, *(len(row.words) for row in self._rows)])
        if longest + words <= width - _MARKS - 1:
            return max(width - _MARKS - words - 2, longest), True
        return max(width - _MARKS - _FEWEST_WORDS - 2, 6), False

    def _row(self, row: StepRow, width: int, title: int, words: str) -> Line:
        line: Line = [
            (" ▶" if row.chosen else "  ", "strong"),
            (f"{row.shape} ", row.tone),
            (f"{shorten(row.title, title):<{title}} ", "strong" if row.chosen else "text"),
            (words, row.tone),
        ]
        return [(text, f"{role}-in") for text, role in pad(line, width)] if row.chosen else line

    def on_click(self, event: events.Click) -> None:
        """Choose the test that was clicked."""
        place = self._top + event.y
        if place < len(self._rows):
            self.post_message(self.Chosen(self._rows[place].name))
