"""One reading in block digits, with its unit; beside it the engine's speed, below it how far the recording is."""

from __future__ import annotations

from tui.dashboard.blockfont import Size, block_height, block_text, block_width, drawable
from tui.dashboard.canvas import Canvas, Line
from tui.view.taking import TakingView
from tui.view.wrapping import shorten

__all__ = ["BigReading"]

_WIDEST = "888.88"
_SIDE = 16
_BAR = 30


class BigReading(Canvas):
    """The value as large as the room allows."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._view: TakingView | None = None

    def show(self, view: TakingView) -> None:
        """Show a reading."""
        self._view = view
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        view = self._view
        if view is None:
            return []
        fits = block_height(Size.DOUBLE) + 3 <= height and block_width(_WIDEST, Size.DOUBLE) + _SIDE < width
        size = Size.DOUBLE if fits else Size.FULL
        drawn = block_text(view.digits, size, ink="#" if self.plain else "█")
        side = self._side(view, len(drawn))
        rows: list[Line] = [
            [(" ", "text"), (row, "strong"), (f"  {beside}", "strong")]
            for row, beside in zip(drawn, side, strict=True)
        ]
        return [[(f" {shorten(view.title, width - 2)}", "dim")], *rows, [], self._bar(view, width)]

    def _side(self, view: TakingView, height: int) -> list[str]:
        """The unit, large where it can be drawn; what is unusual, and the engine's speed."""
        large = not self.plain and drawable(view.unit)
        unit = block_text(view.unit, Size.HALF) if large else [view.unit]
        below = [each for each in (view.words, view.speed) if each]
        return [*unit, *[""] * (height - len(unit) - len(below)), *below][:height]

    def _bar(self, view: TakingView, width: int) -> Line:
        columns = min(_BAR, max(width - 20, 5))
        done = view.bar_done(columns)
        full, rest = ("#", ".") if self.plain else ("━", "─")
        return [
            (" ", "text"),
            (full * done, "good"),
            (rest * (columns - done), "dim"),
            (f"  {view.progress}", "text"),
        ]
