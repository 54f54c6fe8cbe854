"""The verdict: a filled panel with a shape, a word, and the limit it rests on."""

from __future__ import annotations

from tui.dashboard.blockfont import Size, block_height, block_text, block_width
from tui.dashboard.canvas import Canvas, Line, pad
from tui.dashboard.lowdigits import LOW_ROWS, low_drawable, low_text
from tui.view.state import VerdictView
from tui.view.wrapping import wrap

__all__ = ["VerdictPanel"]


_ROOMY_COLUMNS = 48
_GAP = "\u2009"


class VerdictPanel(Canvas):
    """The verdict, as large as the room allows: the shape too, for it is known from further away than any word."""

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
        rows = self._side_by_side(view, width, height) or self._stacked(view, width, height)
        rows = rows or self._word_alone(view, width, height)
        centred = [[(f"{row[:width]:^{width}}", role)] for row in rows[:height]]
        return [*centred, *[pad([], width, role) for _ in range(height - len(centred))]]

    def _side_by_side(self, view: VerdictView, width: int, height: int) -> list[str]:
        """Shape and word in one line with the sentences below; nothing where they do not fit."""
        below = _below(view, width)
        drawn = self._drawn(view, width - 1, height - len(below))
        return _spaced(drawn, below, height) if drawn else []

    def _drawn(self, view: VerdictView, width: int, height: int) -> list[str]:
        """The largest drawing of shape and word that fits; in plain mode small blocks can't be drawn."""
        ink = "#" if self.plain else "█"
        both = f"{view.shape}{_GAP}{view.word}"
        for size in (Size.DOUBLE, Size.FULL):
            if block_width(both, size) <= width and block_height(size) <= height:
                return block_text(both, size, ink=ink)
        if self.plain:
            return _low(view, width) if height >= LOW_ROWS else []
        beside = block_width(view.shape, Size.HALF) + 2 + block_width(view.word, Size.FULL)
        if beside <= width and block_height(Size.FULL) <= height:
            return _beside(_centred(block_text(view.shape, Size.HALF), 7), block_text(view.word, Size.FULL))
        if block_width(both, Size.HALF) <= width and block_height(Size.HALF) <= height:
            return block_text(both, Size.HALF)
        return []

    def _stacked(self, view: VerdictView, width: int, height: int) -> list[str]:
        """The word above, the shape below it with the sentences beside; nothing where that does not fit."""
        if self.plain or height < 2 * block_height(Size.HALF):
            return []
        first, _, second = view.word.partition(" ")
        if second:  # the two words say it all
            lines = (f"{view.shape}{_GAP}{first}", second)
            fits = all(block_width(line, Size.HALF) < width for line in lines)
            return [row for line in lines for row in block_text(line, Size.HALF, low=True)] if fits else []
        shape = [f" {row}" for row in block_text(view.shape, Size.HALF, low=True)]
        room = width - len(shape[0]) - 1
        said = [*wrap(view.words, room), *wrap(", ".join(filter(None, (view.limit, view.chance))), room)]
        if block_width(view.word, Size.HALF) >= width or len(said) > len(shape):
            return []
        beside = [f"{row:<{room}}" for row in [*said, *[""] * (len(shape) - len(said))]]
        word = [f"{f' {row}':^{width}}" for row in block_text(view.word, Size.HALF, low=True)]
        return [*word, *_beside(shape, beside, gap=1)]

    def _word_alone(self, view: VerdictView, width: int, height: int) -> list[str]:
        """The word as large as it goes, or else the shape; the shape stands small in the sentence then."""
        below = _below(view, width)
        room = height - len(below)
        for text, size in ((view.word, Size.FULL), (view.word, Size.HALF), (view.shape, Size.HALF)):
            if self.plain and size is Size.HALF:
                continue
            if block_width(text, size) <= width - 1 and block_height(size) <= room:
                return _spaced(block_text(text, size, ink="#" if self.plain else "█"), below, height)
        if room >= LOW_ROWS and low_drawable(view.word) and len(low_text(view.word)[0]) <= width - 1:
            return _spaced(low_text(view.word), below, height)
        return _spaced([f"{view.shape} {view.word}"], below, height)


def _below(view: VerdictView, width: int) -> list[str]:
    limit = [text for text in (view.limit, view.chance) if text]
    return [f"{view.shape} {view.words}", *([", ".join(limit)] if width >= _ROOMY_COLUMNS else limit)]


def _spaced(drawn: list[str], below: list[str], height: int) -> list[str]:
    """Both in the middle of the panel, with a row between them where there is one to spare."""
    spare = height - len(drawn) - len(below)
    if spare > 2:
        drawn = [*drawn, ""]
        spare -= 1
    return [*[""] * ((spare + 1) // 2), *drawn, *below]


def _low(view: VerdictView, width: int) -> list[str]:
    """Shape and word in low letters; nothing where they do not fit or can't be drawn."""
    text = f"{view.shape}{view.word}"
    if not low_drawable(text) or len(low_text(text)[0]) > width:
        return []
    return low_text(text)


def _beside(left: list[str], right: list[str], *, gap: int = 2) -> list[str]:
    return [f"{one}{' ' * gap}{other}" for one, other in zip(left, right, strict=True)]


def _centred(rows: list[str], height: int) -> list[str]:
    blank = " " * len(rows[0])
    above = (height - len(rows)) // 2
    return [*[blank] * above, *rows, *[blank] * (height - len(rows) - above)]
