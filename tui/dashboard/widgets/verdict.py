"""The verdict: a filled panel with a shape, a word, and the limit it rests on."""

from __future__ import annotations

from tui.dashboard.blockfont import Size, block_height, block_text, block_width
from tui.dashboard.canvas import Canvas, Line, pad
from tui.dashboard.lowdigits import LOW_ROWS, low_drawable, low_text
from tui.view.state import VerdictView

__all__ = ["VerdictPanel"]


_ROOMY_COLUMNS = 48


class VerdictPanel(Canvas):
    """The verdict, as large as the room allows."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._view: VerdictView | None = None

    def show(self, view: VerdictView) -> None:
        """Show a verdict."""
        if view == self._view:
            return
        self._view = view
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        view = self._view
        if view is None:
            return []
        role = f"fill-{view.tone}"
        limit = [text for text in (view.limit, view.chance) if text]
        below = [f"{view.shape} {view.words}", *([", ".join(limit)] if width >= _ROOMY_COLUMNS else limit)]
        drawn = self._drawn(view, width - 1, height - len(below))
        spare = height - len(drawn) - len(below)
        if spare > 2 and drawn:
            drawn = [*drawn, ""]
            spare -= 1
        rows = [*[""] * ((spare + 1) // 2), *drawn, *below]
        centred = [[(f"{row[:width]:^{width}}", role)] for row in rows[:height]]
        return [*centred, *[pad([], width, role) for _ in range(height - len(centred))]]

    def _drawn(self, view: VerdictView, width: int, height: int) -> list[str]:
        """The largest drawing of shape and word that fits; in plain mode small blocks can't be drawn."""
        ink = "#" if self.plain else "█"
        for text, size in (
            (f"{view.shape}\u2009{view.word}", Size.DOUBLE),
            (f"{view.shape}\u2009{view.word}", Size.FULL),
            (view.word, Size.FULL),
            (f"{view.shape}\u2009{view.word}", Size.HALF),
            (view.word, Size.HALF),
            (view.shape, Size.HALF),
        ):
            if self.plain and size is Size.HALF:
                continue
            if block_width(text, size) <= width and block_height(size) <= height:
                return block_text(text, size, ink=ink)
        if height >= LOW_ROWS and low_drawable(view.word) and len(low_text(view.word)[0]) <= width:
            return low_text(view.word)
        return [f"{view.shape} {view.word}"]
