"""Boxes that show nothing but their ground: drawn once, not worked out again behind each row that changes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.style import Style
from textual.containers import Horizontal, Vertical
from textual.strip import Strip

if TYPE_CHECKING:
    from textual.geometry import Region
    from textual.widget import Widget

    _Base = Widget
else:
    _Base = object  # beside a class of Textual's, whose style sheet goes on to hold

__all__ = ["Column", "Ground", "Row"]


class Ground(_Base):
    """Has no border, no padding and no contents of its own, so that each of its rows is the same blank one.

    Textual draws whatever lies behind a row that has changed along with it, and in its general way that costs
    as much as the row.
    """

    def __init__(self, *children: Any, **named: Any) -> None:
        super().__init__(*children, **named)
        self._blanks: dict[int, Strip] = {}

    def notify_style_update(self) -> None:
        """Forget the blank rows in other colours."""
        super().notify_style_update()
        self._blanks.clear()

    def render_lines(self, crop: Region) -> list[Strip]:
        """Blank rows."""
        blank = self._blanks.get(crop.width)
        if blank is None:
            ground = self.background_colors[1]
            blank = Strip.blank(crop.width, Style(bgcolor=ground.rich_color))
            for line_filter in self.get_line_filters():
                blank = blank.apply_filter(line_filter, ground)
            self._blanks[crop.width] = blank
        return [blank] * crop.height


class Row(Ground, Horizontal):
    """Widgets beside each other."""


class Column(Ground, Vertical):
    """Widgets below each other."""
