"""The widget that all others are made of: rows of styled text, of which only changed ones are drawn anew."""

from __future__ import annotations

from collections.abc import Iterable

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.color import Color
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from tui.dashboard.plain import plain_text
from tui.dashboard.roles import role_style

__all__ = ["Canvas", "Line", "cut", "pad"]

Line = list[tuple[str, str]]
"""A row as runs of (text, role)."""


def pad(line: Line, width: int, role: str = "text") -> Line:
    """Fill a row up to the width, or cut it there."""
    length = sum(len(text) for text, _ in line)
    if length <= width:
        return [*line, (" " * (width - length), role)]
    return cut(line, width)


def cut(line: Line, width: int) -> Line:
    """The first ``width`` columns of a row; a single blank is where a word was cut."""
    kept: Line = []
    left = width
    for text, role in line:
        kept.append((text[:left], role))
        left -= min(len(text), left)
    return kept


class Canvas(Widget, can_focus=False):
    """Rows drawn by :meth:`paint`, compared with those on the screen.

    Every character that a subclass draws is one column wide.

    Attributes:
        plain: draw with ASCII characters only.
    """

    ALLOW_SELECT = False

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id, classes=classes)
        self.plain = False
        self._lines: list[Line] = []
        self._lines_for = Size()
        self._strips: dict[int, Strip] = {}
        self._role_styles: dict[str, Style] = {}
        self._background: Color | None = None

    def paint(self, width: int, height: int) -> Iterable[Line]:
        """Give the rows, at most ``height``, from what the widget was last told to show."""
        return ()

    def repaint(self) -> None:
        """Draw anew the rows that have changed."""
        lines = self._painted()
        if not lines:
            return
        if len(lines) != len(self._lines):
            self._lines = lines
            self._strips.clear()
            self.refresh()
            return
        changed = [y for y, (new, old) in enumerate(zip(lines, self._lines, strict=True)) if new != old]
        self._lines = lines
        for y in changed:
            self._strips.pop(y, None)
        if changed:
            # Neighbouring rows go as one region: each region costs as much again as a row.
            self.refresh(
                *(Region(0, first, self.outer_size.width, count) for first, count in _stretches(changed))
            )

    def _painted(self) -> list[Line]:
        """All rows in the widget's present size."""
        width, height = self._lines_for = self.outer_size
        if width <= 0 or height <= 0:
            return []
        lines = [pad(self._fit(line), width) for line in self.paint(width, height)][:height]
        return lines + [[(" " * width, "text")]] * (height - len(lines))

    def _fit(self, line: Line) -> Line:
        return [(plain_text(text), role) for text, role in line] if self.plain else line

    def on_resize(self, event: events.Resize) -> None:
        """Start afresh where the first frame in this size has not done so already."""
        if self._lines_for != self.outer_size:
            self._start_afresh()
            self.refresh()

    def _start_afresh(self) -> None:
        """Draw all rows, for every row depends on the width."""
        self._strips.clear()
        self._lines = self._painted()

    def set_plain(self, plain: bool) -> None:
        """Draw with ASCII only, or with blocks and braille."""
        self.plain = plain
        self.repaint()

    def notify_style_update(self) -> None:
        """Forget what was drawn in other colours."""
        super().notify_style_update()
        self._role_styles.clear()
        self._strips.clear()
        self._background = None

    def render_lines(self, crop: Region) -> list[Strip]:
        """Rows for the screen, as they were where they have not changed.

        A canvas has no border and no padding, so that the general way of
        Textual, which works out both anew for each row, can be left out.
        """
        if self._lines_for != self.outer_size:
            self._start_afresh()  # rows are wanted before the word of the size is here: no blank frame first
        strips = [self._strip(y) for y in crop.line_range]
        if crop.column_span != (0, self.outer_size.width):
            strips = [strip.crop(*crop.column_span) for strip in strips]
        return strips

    def _strip(self, y: int) -> Strip:
        strip = self._strips.get(y)
        if strip is None:
            strip = self._strips[y] = self.render_line(y)
        return strip

    def render_line(self, y: int) -> Strip:
        """One row."""
        width = self.outer_size.width
        if y >= len(self._lines):
            return Strip.blank(width, self._style("text"))
        return Strip([Segment(text, self._style(role)) for text, role in self._lines[y] if text], width)

    @property
    def _ground(self) -> Color:
        if self._background is None:
            self._background = self.background_colors[1]
        return self._background

    def _style(self, role: str) -> Style:
        style = self._role_styles.get(role)
        if style is None:
            style = role_style(role, self.app.theme_variables, self._ground)
            for line_filter in self.get_line_filters():  # they change styles alone: once is enough
                (segment,) = line_filter.apply([Segment(" ", style)], self._ground)
                style = segment.style or style
            self._role_styles[role] = style
        return style


def _stretches(rows: list[int]) -> list[tuple[int, int]]:
    """Neighbouring rows as (first, how many)."""
    found: list[tuple[int, int]] = []
    for y in rows:
        if found and found[-1][0] + found[-1][1] == y:
            found[-1] = (found[-1][0], found[-1][1] + 1)
        else:
            found.append((y, 1))
    return found
