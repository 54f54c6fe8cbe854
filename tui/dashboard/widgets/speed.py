"""The engine's speed, what to do about it, and a bar that shows how far it is from the window."""

from __future__ import annotations

from tui.dashboard.blockfont import Size, block_text, block_width
from tui.dashboard.canvas import Canvas, Line
from tui.dashboard.lowdigits import LOW_ROWS, low_text
from tui.view.state import SpeedView

__all__ = ["SpeedGuide"]


class SpeedGuide(Canvas):
    """Speed in block digits, then action and bar. Four rows, or seven where there is room."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._view: SpeedView | None = None
        self._raw = ""

    def show(self, view: SpeedView, raw_volts: str) -> None:
        """Show a speed; ``raw_volts`` is what the meter shows."""
        self._view, self._raw = view, raw_volts
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        view = self._view
        if view is None:
            return []
        digits = self._digits(view, height)
        left = len(digits[0]) + 8
        right = self._guide(view, max(width - left - 1, 10), height)
        units = [view.unit, *[""] * (height - 1)]
        return [
            [(" ", "text"), (digits[row], "strong"), (f" {units[row]:<6}", "dim"), *right[row]]
            for row in range(height)
        ]

    def _digits(self, view: SpeedView, height: int) -> list[str]:
        if self.plain and LOW_ROWS <= height < 7:
            return [*low_text(view.digits), *[" " * len(low_text(view.digits)[0])] * height][:height]
        if self.plain and height < 7:
            return [f"{view.digits:>6}", *[" " * 6] * (height - 1)]
        size = Size.FULL if height >= 7 else Size.HALF
        drawn = block_text(view.digits, size, ink="#" if self.plain else "█")
        blank = " " * block_width(view.digits, size)
        return [*drawn, *[blank] * height][:height]

    def _guide(self, view: SpeedView, width: int, height: int) -> list[Line]:
        columns = width
        if view.window is None:
            return [self._action(view, columns), *[[] for _ in range(height - 1)]]
        above: list[Line] = [[]] if height >= 6 else []
        rows = [
            *above,
            self._action(view, columns),
            *above,
            self._needle(view, columns),
            self._bar(view, view.window, columns),
            self._labels(view, columns),
        ]
        return [*rows, *[[] for _ in range(height)]][:height]

    def _action(self, view: SpeedView, columns: int) -> Line:
        arrows = f"{view.arrows} " if view.arrows else ""
        text = f"{arrows}{view.action.upper()}" + (f" · {view.to_go}" if view.to_go else "")
        # Where there is little room the word goes, then the whole value: never its unit alone.
        room = columns - len(text) - 1
        raw = next((words for words in (f"meter {self._raw}", self._raw) if len(words) <= room), "")
        return [(text, view.tone), (" " * (columns - len(text) - len(raw)), "text"), (raw, "dim")]

    def _needle(self, view: SpeedView, columns: int) -> Line:
        if view.place is None:
            return []
        at = self._column(view.place, columns)
        return [(" " * at, "text"), ("▼" if not self.plain else "V", view.tone)]

    def _bar(self, view: SpeedView, window: float, columns: int) -> Line:
        low, high = self._column(-window, columns), self._column(window, columns)
        middle = self._column(0.0, columns)
        outside, inside, centre = ("-", "=", "|") if self.plain else ("─", "━", "┿")
        at = middle if view.place is None else self._column(view.place, columns)
        below, above = min(at, low), max(at, high)
        return [
            (outside * below, "dim"),
            (inside * (low - below), view.tone),
            ("[" if self.plain else "┣", "good"),
            (inside * (middle - low - 1), "good"),
            (centre, "good"),
            (inside * (high - middle - 1), "good"),
            ("]" if self.plain else "┫", "good"),
            (inside * (above - high), view.tone),
            (outside * (columns - above - 1), "dim"),
        ]

    def _labels(self, view: SpeedView, columns: int) -> Line:
        row = [" "] * columns
        window = view.window or 0.0
        for text, place in (
            (view.low, -1.0),
            (view.low_edge, -window),
            (view.high_edge, window),
            (view.high, 1.0),
        ):
            start = min(max(self._column(place, columns) - len(text) // 2, 0), columns - len(text))
            row[start : start + len(text)] = text
        return [("".join(row), "dim")]

    @staticmethod
    def _column(place: float, columns: int) -> int:
        return round((place + 1) / 2 * (columns - 1))
