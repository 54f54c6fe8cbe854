"""What matters, in words, where there is no room for the run screen, and how much would be needed."""

from __future__ import annotations

from tui.dashboard.canvas import Canvas, Line
from tui.view.state import ViewState
from tui.view.wrapping import wrap

__all__ = ["LEAST_COLUMNS", "LEAST_ROWS", "LOW_ROWS", "CrampedRun", "cramped"]

LEAST_COLUMNS, LEAST_ROWS = 44, 14
"""With fewer columns or rows the run screen's parts would be cut, or not seen at all."""

LOW_ROWS = 16
"""With fewer rows the value does without its caption where the verdict stands below it."""


def cramped(columns: int, rows: int) -> bool:
    """Whether a terminal of that size has no room for the run screen."""
    return columns < LEAST_COLUMNS or rows < LEAST_ROWS


class CrampedRun(Canvas):
    """The run in a few sentences."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._sentences: tuple[tuple[str, str], ...] = ()

    def show(self, view: ViewState, now: str) -> None:
        """Show a run; ``now`` is what happens, in a sentence."""
        value = f"{view.rated.digits.strip()} {view.rated.unit} {view.rated.plus_minus}".strip()
        age = f", {view.speed.age}" if view.speed.age else ""
        speed = f"{view.speed.digits.strip()} {view.speed.unit}{age}: {view.speed.action}"
        self._sentences = (
            (f"{view.verdict.shape} {view.verdict.word}: {view.verdict.words}", f"fill-{view.verdict.tone}"),
            (f"{value} {view.rated.at}", "strong"),
            (f"{speed}, {view.speed.to_go}" if view.speed.to_go else speed, view.speed.tone),
            (now, view.now_tone),
        )
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        screen = self.screen.size
        needed = (
            f"This window is {screen.width}x{screen.height}; the screen needs {LEAST_COLUMNS}x{LEAST_ROWS}."
        )
        last: list[Line] = [[(f" {row}", "dim")] for row in wrap(needed, width - 2)]
        told: list[Line] = [
            [(f" {row}", role)] for text, role in self._sentences for row in wrap(text, width - 2)
        ]
        return [*told[: max(height - len(last), 0)], *last]
