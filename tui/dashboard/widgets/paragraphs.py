"""Paragraphs of text in as many rows as they need, or as there are."""

from __future__ import annotations

from textual import events

from daq.model.counted import counted
from tui.dashboard.canvas import Canvas, Line
from tui.dashboard.plain import plain_text
from tui.view.shelf import Paragraph
from tui.view.wrapping import wrap

__all__ = ["Paragraphs"]


class Paragraphs(Canvas):
    """Each paragraph begins a row of its own; its tone gives the colour."""

    def __init__(self, *, scrolls: bool = False, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        """Show nothing yet.

        Args:
            scrolls: what does not fit is scrolled to; else it ends in "...".
            id: Textual's.
        """
        super().__init__(id=id)
        self._paragraphs: tuple[Paragraph, ...] = ()
        self._scrolls = scrolls
        self._top = 0

    def show(self, paragraphs: tuple[Paragraph, ...]) -> None:
        """Show paragraphs."""
        self._paragraphs = paragraphs
        self.repaint()

    def scroll_rows(self, by: int) -> None:
        """Go on by rows, or back; no further than to the last."""
        self._top = max(self._top + by, 0)
        self.repaint()

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Go on."""
        if self._scrolls:
            event.stop()
            self.scroll_rows(1)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Go back."""
        if self._scrolls:
            event.stop()
            self.scroll_rows(-1)

    def paint(self, width: int, height: int) -> list[Line]:
        lines: list[Line] = [
            [(f" {row}", tone or "text")]
            for text, tone in self._paragraphs
            for row in wrap(plain_text(text) if self.plain else text, max(width - 2, 10))
        ]
        if len(lines) <= height:
            self._top = 0
            return lines
        if not self._scrolls:
            return [*lines[: height - 1], [(" ...", "dim")]]
        self._top = min(self._top, len(lines) - height + 1)
        seen = lines[self._top : self._top + height - 1]
        below = len(lines) - self._top - len(seen)
        told = f"{counted(below, 'row')} more: ↓" if below else "the end; back: ↑"
        return [*seen, [(f" {plain_text(told) if self.plain else told}", "strong")]]
