"""What is said for a while, in rows of its own above the keys: other rows give way, and nothing is hidden."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

from tui.dashboard.canvas import Canvas, Line
from tui.dashboard.plain import plain_text
from tui.view.told import Told, told_rows

__all__ = ["Messages"]

_SHARE_OF_SCREEN = 4


class Messages(Canvas):
    """No rows at all while nothing is said; at most a quarter of the screen's."""

    DEFAULT_CSS: ClassVar[str] = "Messages { display: none; height: 1; }"

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._told: tuple[Told, ...] = ()

    def show(self, told: tuple[Told, ...]) -> None:
        """Show messages; none: take no room."""
        if told != self._told:
            self._told = told
            self._fit_height()
            self.repaint()

    def set_plain(self, plain: bool) -> None:
        """A sign can take three columns in ASCII, and a row more."""
        super().set_plain(plain)
        self._fit_height()

    def screen_resized(self) -> None:
        """The screen has another width."""
        self._fit_height()

    def _fit_height(self) -> None:
        rows = len(self._rows(self.screen.size.width, self.screen.size.height))
        self.styles.height = max(rows, 1)
        self.display = rows > 0
        self.screen.set_class(rows > 0, "-telling")  # where there is little room other parts give theirs up

    def _rows(self, width: int, screen_height: int) -> list[tuple[str, str]]:
        told = (
            [replace(each, text=plain_text(each.text)) for each in self._told] if self.plain else self._told
        )
        return told_rows(told, width, max(screen_height // _SHARE_OF_SCREEN, 1))

    def paint(self, width: int, height: int) -> list[Line]:
        return [[row] for row in self._rows(width, self.screen.size.height)[:height]]
