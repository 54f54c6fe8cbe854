"""The widget that all others are made of: rows of styled text, of which only changed ones are drawn anew."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from rich.segment import Segment
from textual import events
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from tui.dashboard.plain import plain_text

__all__ = ["ROLES", "Canvas", "Line", "cut", "pad"]

Line = list[tuple[str, str]]
"""A row as runs of (text, role)."""

ROLES = (
    "text",
    "strong",
    "dim",
    "rule",
    "good",
    "bad",
    "doubt",
    "quiet",
    "fill-good",
    "fill-bad",
    "fill-doubt",
    "fill-quiet",
    "band",
    "limit",
    "fit",
    "data",
    "before",
    "after",
    "in",
    "band-in",
    "limit-in",
    "fit-in",
    "doubt-in",
    "data-in",
    "text-in",
    "strong-in",
    "good-in",
    "bad-in",
    "quiet-in",
)
"""How text can be styled; the names that end in ``in`` lie within a plot's band, or on the chosen row."""


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
    COMPONENT_CLASSES: ClassVar[set[str]] = {f"canvas--{role}" for role in ROLES}

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id, classes=classes)
        self.plain = False
        self._lines: list[Line] = []

    def paint(self, width: int, height: int) -> Iterable[Line]:
        """Give the rows, at most ``height``, from what the widget was last told to show."""
        return ()

    def repaint(self) -> None:
        """Draw anew the rows that have changed."""
        width, height = self.size
        if width <= 0 or height <= 0:
            return
        lines = [pad(self._fit(line), width) for line in self.paint(width, height)][:height]
        lines += [[(" " * width, "text")]] * (height - len(lines))
        if len(lines) != len(self._lines):
            self._lines = lines
            self.refresh()
            return
        changed = [
            Region(0, y, width, 1)
            for y, (new, old) in enumerate(zip(lines, self._lines, strict=True))
            if new != old
        ]
        self._lines = lines
        if changed:
            self.refresh(*changed)

    def _fit(self, line: Line) -> Line:
        return [(plain_text(text), role) for text, role in line] if self.plain else line

    def on_resize(self, event: events.Resize) -> None:
        """Start afresh: every row depends on the width."""
        self._lines = []
        self.repaint()

    def set_plain(self, plain: bool) -> None:
        """Draw with ASCII only, or with blocks and braille."""
        self.plain = plain
        self.repaint()

    def render_line(self, y: int) -> Strip:
        """One row for the screen."""
        if y >= len(self._lines):
            return Strip.blank(self.size.width, self.rich_style)
        segments = [
            Segment(text, self.get_component_rich_style(f"canvas--{role}"))
            for text, role in self._lines[y]
            if text
        ]
        return Strip(segments)
