"""What happened to the run, newest last."""

from __future__ import annotations

from tui.dashboard.canvas import Canvas, Line

__all__ = ["Happenings"]


class Happenings(Canvas):
    """The newest events, as many as fit."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._messages: tuple[str, ...] = ()

    def show(self, messages: tuple[str, ...]) -> None:
        """Show the messages."""
        self._messages = messages
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        lines: list[Line] = [
            [(" what happened", "text"), ("" if self._messages else "   nothing yet", "dim")]
        ]
        room = height - 1
        wrapped = [row for message in self._messages for row in _wrap(message, max(width - 2, 8))]
        return [*lines, *[[(f" {row}", "dim")] for row in wrapped[max(len(wrapped) - room, 0) :]]]


def _wrap(text: str, width: int) -> list[str]:
    rows: list[str] = []
    for word in text.split():
        if rows and len(rows[-1]) + 1 + len(word) <= width:
            rows[-1] += f" {word}"
        else:
            rows.append(word[:width])
    return rows
