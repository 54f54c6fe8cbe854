"""The list of recordings: a row each, one of them under the cursor."""

from __future__ import annotations

from textual import events
from textual.message import Message

from tui.dashboard.canvas import Canvas, Line, pad
from tui.dashboard.plain import plain_text
from tui.view.shelf import ShelfRow, ShelfView
from tui.view.wrapping import shorten

__all__ = ["Listing"]

_WHEN, _LENGTH, _RESULT, _VERDICT = 16, 7, 21, 10
_MARK = 7
_HEAD_ROWS = 1
_WIDE = 110
_LEAST_MACHINE = 6
_LONG_MACHINE = 24
"""From so many columns on a shortened title tells more than the card's name."""


def _state_columns(width: int) -> int:
    """Where there is little room the shape alone; the words stand below the list."""
    return 10 if width >= _WIDE else 1


def _gap(width: int) -> str:
    """Between two columns; narrow where there is little room, for the date keeps its year everywhere."""
    return "  " if width >= _WIDE else " "


class Listing(Canvas):
    """Recordings, newest first; scrolls so that the cursor can be seen."""

    class Chosen(Message):
        """A row was clicked; ``twice``: with a double click."""

        def __init__(self, index: int, *, twice: bool) -> None:
            super().__init__()
            self.index = index
            self.twice = twice

    class Moved(Message):
        """The wheel was turned by that many rows."""

        def __init__(self, by: int) -> None:
            super().__init__()
            self.by = by

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._view: ShelfView | None = None
        self._top = 0

    @property
    def page(self) -> int:
        """How many rows are seen at once."""
        return max(self.size.height - _HEAD_ROWS, 1)

    def show(self, view: ShelfView) -> None:
        """Show a list."""
        self._view = view
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        view = self._view
        if view is None or height <= _HEAD_ROWS:
            return []
        room = height - _HEAD_ROWS
        self._top = min(
            max(self._top, view.selected - room + 1), view.selected, max(len(view.rows) - room, 0)
        )
        seen = view.rows[self._top : self._top + room]
        return [
            self._head(width),
            *(self._row(row, width, chosen=self._top + at == view.selected) for at, row in enumerate(seen)),
        ]

    def _machine_columns(self, width: int) -> int:
        gap = len(_gap(width))
        fixed = 4 + _WHEN + _LENGTH + _RESULT + _VERDICT + _state_columns(width) + 5 * gap
        left = width - fixed - (_MARK + gap) * (width >= _WIDE)
        return left if left >= _LEAST_MACHINE else 0

    def _head(self, width: int) -> Line:
        machine, gap = self._machine_columns(width), _gap(width)
        words = f"    {'when':<{_WHEN}}{gap}{'machine':<{machine}.{machine}}{gap}{'length':>{_LENGTH}}{gap}"
        state = "recording" if width >= _WIDE else ""
        return [(f"{words}{'rated output':<{_RESULT}}{gap}{'verdict':<{_VERDICT}}{gap}{state}", "dim")]

    def _row(self, row: ShelfRow, width: int, *, chosen: bool) -> Line:
        wide = width >= _WIDE
        machine, gap, state = self._machine_columns(width), _gap(width), _state_columns(width)
        fits = len(row.machine) <= machine or machine >= _LONG_MACHINE or not row.machine_name
        called = row.machine if fits else row.machine_name
        # In ASCII before it is laid out: a sign can become three.
        result = plain_text(row.result) if self.plain else row.result
        shape, state_shape = (
            plain_text(one)[:1] if self.plain else one for one in (row.shape, row.state_shape)
        )
        line: Line = [
            (f" {'▶' if chosen else ' '}{' ' if wide else row.mark[:1] or ' '} ", "good"),
            (row.when.ljust(_WHEN) + gap, "text"),
            (f"{shorten(called, machine):<{machine}}{gap}", "strong" if chosen else "text"),
            (f"{row.length:>{_LENGTH}}{gap}", "text"),
            (f"{result:<{_RESULT}}{gap}", "strong" if chosen else "text"),
            (f"{shape} {row.verdict.lower()}"[:_VERDICT].ljust(_VERDICT) + gap, row.tone),
            (f"{state_shape} {row.state}"[:state].ljust(state), row.state_tone),
            (f"{gap}{row.mark:<{_MARK}}" if wide else "", "good"),
        ]
        return [(text, f"{role}-in") for text, role in pad(line, width)] if chosen else line

    def on_click(self, event: events.Click) -> None:
        """Choose the row that was clicked."""
        index = self._top + event.y - _HEAD_ROWS
        if self._view is not None and event.y >= _HEAD_ROWS and index < len(self._view.rows):
            self.post_message(self.Chosen(index, twice=event.chain >= 2))

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Turn on."""
        event.stop()
        self.post_message(self.Moved(3))

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Turn back."""
        event.stop()
        self.post_message(self.Moved(-3))
