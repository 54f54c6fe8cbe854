"""Paragraphs of text in as many rows as they need, or as there are."""

from __future__ import annotations

from tui.dashboard.canvas import Canvas, Line
from tui.dashboard.plain import plain_text
from tui.view.shelf import Paragraph
from tui.view.wrapping import wrap

__all__ = ["Paragraphs"]


class Paragraphs(Canvas):
    """Each paragraph begins a row of its own; its tone gives the colour."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._paragraphs: tuple[Paragraph, ...] = ()

    def show(self, paragraphs: tuple[Paragraph, ...]) -> None:
        """Show paragraphs."""
        self._paragraphs = paragraphs
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        lines: list[Line] = [
            [(f" {row}", tone or "text")]
            for text, tone in self._paragraphs
            for row in wrap(plain_text(text) if self.plain else text, max(width - 2, 10))
        ]
        if len(lines) > height:
            lines = [*lines[: height - 1], [(" ...", "dim")]]
        return lines
