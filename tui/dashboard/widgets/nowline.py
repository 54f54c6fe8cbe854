"""One sentence: what is happening and what to do."""

from __future__ import annotations

from textual.geometry import Size

from tui.dashboard.canvas import Canvas, Line
from tui.view.state import Tone
from tui.view.wrapping import shorten, wrap

__all__ = ["NowLine"]


class NowLine(Canvas):
    """The sentence, in bold, over the full width; in more rows than one where there are so many."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._sentence = ""
        self._tone: Tone = "quiet"

    def show(self, sentence: str, tone: Tone) -> None:
        """Show a sentence."""
        rows = self._rows(self.outer_size.width)
        self._sentence, self._tone = sentence, tone
        if self._rows(self.outer_size.width) != rows:
            self.refresh(layout=True)  # where the style sheet leaves the height to the sentence
        self.repaint()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many rows as the sentence needs."""
        return self._rows(width)

    def _rows(self, width: int) -> int:
        return len(wrap(self._sentence, width - 4))

    def paint(self, width: int, height: int) -> list[Line]:
        rows = wrap(self._sentence, width - 4)
        if len(rows) > height:
            rest = " ".join(rows[height - 1 :])
            rows = [*rows[: height - 1], shorten(rest, width - 4)]
        above: list[Line] = [[] for _ in range((height - len(rows)) // 2)]
        marks = (" ▶ ", *["   "] * (len(rows) - 1))
        shown: list[Line] = [
            [(mark, self._tone), (row, self._tone)] for mark, row in zip(marks, rows, strict=True)
        ]
        return [*above, *shown]
