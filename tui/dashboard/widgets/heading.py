"""The top row: the machine, the time, and whether a recording is being made."""

from __future__ import annotations

from tui.dashboard.canvas import Canvas, Line
from tui.view.wrapping import shorten

__all__ = ["Heading"]


class Heading(Canvas):
    """One row."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._left = ""
        self._right = ""

    def show(self, left: str, right: str) -> None:
        """Show what stands at the two ends of the row."""
        self._left, self._right = left, right
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        name = " spinvolt "
        room = max(width - len(self._right) - 2 - len(name), 0)
        left: Line = [(name, "strong"), (shorten(self._left, room), "dim")]
        gap = width - sum(len(text) for text, _ in left) - len(self._right) - 1
        return [[*left, (" " * max(gap, 1), "text"), (self._right, "text")]]
