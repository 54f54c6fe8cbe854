"""A line to type readings into, for instruments that only have a display; the run stays in sight above it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from tui.dashboard.plain import plain_text
from tui.text import clean

if TYPE_CHECKING:
    from tui.control import Answer, Control
    from tui.dashboard.app import Dashboard

__all__ = ["KeyInScreen"]

_LOOK_PERIOD_S = 0.05
_LONGEST = 400


class KeyInScreen(ModalScreen[None]):
    """Hands each line on, says what was understood of it, and stays open for the next one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "close", id="keyin.close", tooltip="Back to the run"),
    ]

    def __init__(self, control: Control) -> None:
        super().__init__()
        self._control = control
        self._warned = ""

    def compose(self) -> ComposeResult:
        with Vertical(id="keyin"):
            yield Static("Type what the displays show, then Enter; Esc when done.", markup=False)
            yield Input(placeholder="19.6 3580", id="typed", max_length=200, compact=True)
            yield Static("", id="taken", markup=False)
            yield Static("", id="warned", markup=False)

    def on_mount(self) -> None:
        """Listen for what becomes of the lines."""
        self.set_interval(_LOOK_PERIOD_S, self._hear)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Hand the line on."""
        if event.value.strip():
            self._control.typed(event.value)
            self._say(f"sent, no answer yet: {event.value}")
        event.input.value = ""

    def _hear(self) -> None:
        answers: list[Answer] = self._control.answers()
        for answer in answers[-1:]:
            self._say(f"{'✓' if answer.understood else '✗ NOT TAKEN.'} {clean(answer.text, _LONGEST)}")
            self.query_one("#taken").set_class(not answer.understood, "-refused")
        self._warn()

    def _warn(self) -> None:
        """Say here what is told as a warning: these rows lie on those in which it stands."""
        told = cast("Dashboard", self.app).told
        words = next((f"! {each.text}" for each in reversed(told) if each.severity != "information"), "")
        if words != self._warned:
            self._warned = words
            warned = self.query_one("#warned", Static)
            warned.update(self._drawn(words))
            warned.display = bool(words)

    def _say(self, sentence: str) -> None:
        self.query_one("#taken", Static).update(self._drawn(sentence))

    def _drawn(self, sentence: str) -> str:
        return plain_text(sentence) if self.app.has_class("-plain") else sentence
