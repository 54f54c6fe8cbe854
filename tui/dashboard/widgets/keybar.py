"""The bottom row: the keys that do something here, each of which can also be clicked."""

from __future__ import annotations

from dataclasses import dataclass

from textual import events

from tui.dashboard.canvas import Canvas, Line

__all__ = ["KeyBar", "KeyHint", "fitting"]

_GAP = 2


@dataclass(frozen=True)
class KeyHint:
    """A key and what it does."""

    key: str
    """The key's name for the program."""
    shown: str
    """The key's name for a person."""
    label: str

    @property
    def columns(self) -> int:
        """How much room it takes, with the gap after it."""
        return len(self.shown) + 1 + len(self.label) + _GAP


def fitting(hints: tuple[KeyHint, ...], width: int) -> list[tuple[int, KeyHint]]:
    """The hints that fit, with their columns; the last one, which explains the others, always does."""
    if not hints:
        return []
    *others, last = hints
    placed: list[tuple[int, KeyHint]] = []
    at = 1
    for hint in others:
        if at + hint.columns + last.columns - _GAP <= width:
            placed.append((at, hint))
            at += hint.columns
    return [*placed, (at, last)]


class KeyBar(Canvas):
    """One row of keys."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._hints: tuple[KeyHint, ...] = ()

    def on_mount(self) -> None:
        """Follow what is offered."""
        self.screen.bindings_updated_signal.subscribe(self, lambda _: self.call_after_refresh(self.look))
        self.look()  # at once, for the first frame
        self.call_after_refresh(self.look)

    def look(self) -> None:
        """Ask the screen what is offered now."""
        if not self.is_attached:
            return
        offered = [active.binding for active in self.screen.active_bindings.values() if active.binding.show]
        first = {binding.action: binding for binding in reversed(offered)}
        self._hints = tuple(
            KeyHint(binding.key, self.app.get_key_display(binding), binding.description)
            for binding in offered
            if first[binding.action] is binding
        )
        self.repaint()

    def paint(self, width: int, height: int) -> list[Line]:
        line: Line = [(" ", "text")]
        for _, hint in fitting(self._hints, width):
            line += [(hint.shown, "good"), (f" {hint.label}", "text"), (" " * _GAP, "text")]
        return [line]

    def on_click(self, event: events.Click) -> None:
        """Press the key that was clicked."""
        for at, hint in fitting(self._hints, self.size.width):
            if at <= event.x < at + hint.columns - _GAP:
                self.app.simulate_key(hint.key)
