"""One sentence: what is happening and what to do."""

from __future__ import annotations

from tui.dashboard.canvas import Canvas, Line
from tui.view.state import Tone
from tui.view.wrapping import shorten

__all__ = ["NowLine"]


class NowLine(Canvas):
    """The sentence, in bold, over the full width."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._sentence = ""
        self._tone: Tone = "quiet"

    def show(self, sentence: str, tone: Tone) -> None:
        """Show a sentence."""
        self._sentence, self._tone = sentence, tone
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        above = (height - 1) // 2
        return [
            *[[] for _ in range(above)],
            [(" ▶ ", self._tone), (shorten(self._sentence, width - 4), self._tone)],
        ]
