"""The engine's speed, what to do about it, and a bar that shows how far it is from the window."""

from __future__ import annotations

from tui.dashboard.blockfont import Size, block_text, block_width, drawable
from tui.dashboard.canvas import Canvas, Line
from tui.dashboard.lowdigits import LOW_ROWS, low_text
from tui.view.speed_bar import BarPart, SpeedBar, speed_bar
from tui.view.state import SpeedView, Tone

__all__ = ["SpeedGuide"]

_LARGE_ROWS = 7
_DRAWN_ROWS = 4
"""With fewer the digits are text, and of the bar its line alone is there."""
_MARKS: dict[BarPart, str] = {
    "outside": "─", "to go": "━", "low edge": "┣", "inside": "━", "rated": "┿", "high edge": "┫",
}  # fmt: skip
_PLAIN_MARKS: dict[BarPart, str] = {
    "outside": "-", "to go": "=", "low edge": "[", "inside": "=", "rated": "|", "high edge": "]",
}  # fmt: skip


class SpeedGuide(Canvas):
    """Speed in block digits, then action and bar. Four rows, seven where there is room, fewer beside a message."""

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
        # "12 s old" in rows of its own below the unit, beside the digits that it is about.
        age = [view.age.removesuffix(" old"), "old"] if view.age else []
        units = [view.unit, *age, *[""] * height]
        return [
            [(" ", "text"), (digits[row], "strong"), (f" {units[row]:<6}", "dim"), *right[row]]
            for row in range(height)
        ]

    def _digits(self, view: SpeedView, height: int) -> list[str]:
        if self.plain and LOW_ROWS <= height < 7:
            return [*low_text(view.digits), *[" " * len(low_text(view.digits)[0])] * height][:height]
        if height < _DRAWN_ROWS or (self.plain and height < 7):
            return [f"{view.digits:>6}", *[" " * 6] * (height - 1)]
        size = Size.FULL if height >= 7 else Size.HALF
        drawn = block_text(view.digits, size, ink="#" if self.plain else "█")
        blank = " " * block_width(view.digits, size)
        return [*drawn, *[blank] * height][:height]

    def _guide(self, view: SpeedView, width: int, height: int) -> list[Line]:
        bar = speed_bar(view, width)
        large = self._large_action(view, width) if height >= _LARGE_ROWS else []
        rows: list[Line] = large or [self._action(view, width)]
        if bar is not None and height < _DRAWN_ROWS:
            rows = [*rows, self._bar(bar)]
        elif bar is not None:
            above: list[Line] = [[]] if height >= 6 and not large else []
            below = [self._needle(bar, view.tone), self._bar(bar), [(bar.labels, "dim")]]
            rows = [*above, *rows, *above, *below]
        return [*rows, *[[] for _ in range(height)]][:height]

    def _large_action(self, view: SpeedView, columns: int) -> list[Line]:
        """What to do in block letters, with the rest beside it; nothing where that can't be drawn or does not fit."""
        action, raw = view.action.upper(), f"meter {self._raw}"
        beside = f"{view.arrows} {view.to_go}".strip()
        if self.plain or not drawable(action):
            return []
        drawn = block_text(action, Size.HALF)
        room = columns - len(drawn[0]) - len(beside) - len(raw) - 4
        if room < 0:
            return []
        first: Line = [(drawn[0], view.tone), (f"   {beside}", view.tone), (" " * (room + 1) + raw, "dim")]
        rest: list[Line] = [[(row, view.tone)] for row in drawn[1:]]
        return [first, *rest]

    def _action(self, view: SpeedView, columns: int) -> Line:
        text = next((words for words in _actions(view) if len(words) <= columns), view.action.upper())
        # Where there is little room the word goes, then the whole value: never its unit alone.
        room = columns - len(text) - 1
        raw = next((words for words in (f"meter {self._raw}", self._raw) if len(words) <= room), "")
        return [(text, view.tone), (" " * (columns - len(text) - len(raw)), "text"), (raw, "dim")]

    def _needle(self, bar: SpeedBar, tone: Tone) -> Line:
        if bar.needle is None:
            return []
        return [(" " * bar.needle, "text"), ("V" if self.plain else "▼", tone)]

    def _bar(self, bar: SpeedBar) -> Line:
        marks = _PLAIN_MARKS if self.plain else _MARKS
        return [(marks[part] * columns, role) for part, columns, role in bar.runs]


def _actions(view: SpeedView) -> tuple[str, ...]:
    """What to do, at length and ever shorter; a distance is said whole or not at all."""
    action, arrows = view.action.upper(), f"{view.arrows} " if view.arrows else ""
    short = action.removeprefix("A LITTLE ")
    if not view.to_go:
        return (f"{arrows}{action}", action, short)
    distance = view.to_go.removesuffix(" to go")
    return (
        f"{arrows}{action} · {view.to_go}",
        f"{arrows}{action} · {distance}",
        f"{action} · {distance}",
        f"{arrows}{short} · {distance}",
        f"{arrows}{short}",
        short,
    )
