"""Titled sentences in as many rows as they need; turned over where there are more than fit."""

from __future__ import annotations

from textual import events
from textual.geometry import Size

from tui.dashboard.canvas import Canvas, Line
from tui.view.job_state import Section, Sentence
from tui.view.wrapping import wrap

__all__ = ["Sections"]

_MARK_COLUMNS = 2


class Sections(Canvas):
    """Sections one below the other, with a row between them.

    Attributes:
        top: the first row that is seen.
    """

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._sections: tuple[Section, ...] = ()
        self.top = 0

    def show(self, sections: tuple[Section, ...]) -> None:
        """Show sections; other ones are seen from their beginning."""
        if [each.title for each in sections] != [each.title for each in self._sections]:
            self.top = 0
        grown = sections != self._sections
        self._sections = sections
        if grown and self.styles.height is not None and self.styles.height.is_auto:
            self.refresh(layout=True)
        self.repaint()

    def turn(self, by: int) -> None:
        """Turn over by so many rows."""
        self.top = max(self.top + by, 0)
        self.repaint()

    @property
    def page(self) -> int:
        """Rows to turn over at once: all but one or two."""
        return max(self.size.height - 2, 1)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """What the sentences need, where the style sheet leaves the height to the content."""
        return max(len(self._rows(width)), 1)

    def paint(self, width: int, height: int) -> list[Line]:
        rows = self._rows(width)
        self.top = min(self.top, max(len(rows) - height, 0))
        seen = rows[self.top : self.top + height]
        below = len(rows) - self.top - len(seen)
        if below > 0 and seen:
            seen[-1] = [(f" ... {below + 1} more rows below", "dim")]
        return seen

    def _rows(self, width: int) -> list[Line]:
        rows: list[Line] = []
        for section in self._sections:
            if rows:
                rows.append([])
            if section.title:
                rows += [[(f" {row}", "strong")] for row in wrap(section.title, max(width - 2, 10))]
            for sentence in section.sentences:
                rows += _sentence_rows(sentence, width)
        return rows

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Turn on."""
        event.stop()
        self.turn(3)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Turn back."""
        event.stop()
        self.turn(-3)


def _sentence_rows(sentence: Sentence, width: int) -> list[Line]:
    mark = f" {sentence.mark:<{_MARK_COLUMNS}}"
    rows = wrap(sentence.text, max(width - len(mark) - 1, 10))
    blank = " " * len(mark)
    return [
        [(mark if at == 0 else blank, sentence.role), (row, sentence.role)] for at, row in enumerate(rows)
    ]
