"""The main value in block digits, with its uncertainty and its unit."""

from __future__ import annotations

from tui.dashboard.blockfont import Size, block_height, block_text, block_width
from tui.dashboard.canvas import Canvas, Line
from tui.dashboard.plain import plain_text
from tui.view.state import RatedView

__all__ = ["RatedOutput"]

_SIDE_COLUMNS = 10
_UNIT_COLUMNS = 5
_WIDEST = "88.88"


class RatedOutput(Canvas):
    """Rated volts, as large as the room allows."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._view: RatedView | None = None

    def show(self, view: RatedView) -> None:
        """Show a value."""
        if view == self._view:
            return
        self._view = view
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        view = self._view
        if view is None:
            return []
        caption: Line = [(f" {view.caption} {view.at}", "dim")]
        size = self._digit_size(view, width, height)
        drawn = block_text(view.digits, size, ink="#" if self.plain else "█")
        role = "strong" if view.plus_minus else "dim"
        gap = " " if self.plain else "  "  # the sign of the uncertainty is wider in ASCII
        lines: list[Line] = [
            [(" ", "text"), (row, role), (gap, "text"), *side]
            for row, side in zip(drawn, self._side(view, size), strict=True)
        ]
        spare = height - len(lines)
        # An uncertainty that leaves something out says so, where need be in the caption's place.
        left_out: list[Line] = [[(f" {self._left_out(view, width - 1)}", "doubt")]] if view.left_out else []
        if spare == 1:
            return [*lines, *(left_out or [caption])]
        if spare <= 1:
            return lines
        above: list[Line] = [caption, *left_out]
        return [*above, *[[]] * ((spare - len(above)) // 2), *lines]

    def _digit_size(self, view: RatedView, width: int, height: int) -> Size:
        widest = _WIDEST if len(view.digits) <= len(_WIDEST) else view.digits
        room = width - 3 - _SIDE_COLUMNS
        fits = block_height(Size.DOUBLE) < height and 2 * block_width(widest, Size.FULL) <= room - 12
        if fits:
            return Size.DOUBLE
        # A unit that is cut off would be worse than smaller digits; without blocks there are none smaller.
        needed = block_width(view.digits, Size.FULL) + 3 + max(len(self._plus_minus(view)), _UNIT_COLUMNS)
        return Size.FULL if self.plain or needed <= width else Size.HALF

    def _plus_minus(self, view: RatedView) -> str:
        """The uncertainty, written as everywhere else on the screen."""
        return plain_text(view.plus_minus) if self.plain else view.plus_minus

    def _left_out(self, view: RatedView, width: int) -> str:
        """What the uncertainty leaves out, in the longest words that fit."""
        short = view.left_out.removeprefix("and ")
        longest = f"{self._plus_minus(view)} {view.left_out}"
        return next((words for words in (longest, view.left_out) if len(words) <= width), short)

    def _side(self, view: RatedView, size: Size) -> list[Line]:
        """What stands right of the digits: the unit on top, the uncertainty below."""
        share = ("at least", "doubt") if view.left_out else ("95 %", "dim")
        rows: list[Line] = [[] for _ in range(block_height(size))]
        if self.plain:
            rows[0] = [(view.unit, "strong")]
        else:
            if size is Size.HALF:
                return [[(view.unit, "strong")], [], [(view.plus_minus, "strong")], [share]]
            for row, text in enumerate(
                block_text(view.unit, Size.FULL if size is Size.DOUBLE else Size.HALF)
            ):
                rows[row] = [(text, "text")]
        if not view.plus_minus:
            return rows
        if size is Size.DOUBLE and not self.plain:
            number = view.plus_minus.removesuffix(f" {view.unit}").replace(" ", "")
            for row, text in enumerate(block_text(number, Size.HALF)):
                rows[len(rows) - 5 + row] = [(text, "text")]
            rows[-1] = [(view.unit, "strong"), (f", {share[0]}", share[1])]
        else:
            rows[-2] = [(self._plus_minus(view), "strong")]
            rows[-1] = [share]
        return rows
