"""A line to type readings into, for instruments that only have a display."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

__all__ = ["KeyInScreen"]


class KeyInScreen(ModalScreen[None]):
    """Hands each line on and stays open for the next one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "close", id="keyin.close", tooltip="Back to the run"),
    ]

    def __init__(self, take: Callable[[str], None]) -> None:
        super().__init__()
        self._take = take

    def compose(self) -> ComposeResult:
        with Vertical(id="keyin"):
            yield Static("Type what the displays show, then Enter; Esc when done.", markup=False)
            yield Input(placeholder="19.6 3580", id="typed", max_length=200)
            yield Static("", id="taken", markup=False)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Hand the line on."""
        if event.value.strip():
            self._take(event.value)
            self.query_one("#taken", Static).update(f"sent: {event.value}")
        event.input.value = ""
