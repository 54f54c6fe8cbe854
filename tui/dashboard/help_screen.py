"""What the screen shows and which key does what."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

__all__ = ["HelpScreen"]

_TEXT = """\
Rated output: what the alternator gives at its rated speed, unloaded, worked
out from volts and speed while the speed moves. Beside it its uncertainty (95\u00a0%).

Verdict: rated output against the machine card's limit.
  {pass_} pass     {fail} fail     {close} too close to call     {wait} not enough data

Speed: the bracket on the bar is the window around rated speed. Bring the
marker into it and hold; the scale opens up near rated speed.

Traces: dots are measured, those in another colour (x in plain) are left out of
the result; the dashed line is the limit or rated speed, the shaded band the
result with its uncertainty, or the window.

Health: how old each instrument's newest reading is, readings a second, and
what could not be read.
"""


class HelpScreen(ModalScreen[None]):
    """Any of its keys closes it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "escape,question_mark,q,enter", "dismiss", "close", id="help.close", tooltip="Back to the run"
        ),
    ]

    def __init__(self, keys: list[tuple[str, str]], *, plain: bool) -> None:
        super().__init__()
        self._keys = keys
        self._plain = plain

    def compose(self) -> ComposeResult:
        shapes = dict(zip(("pass_", "fail", "close", "wait"), "+x~." if self._plain else "✓✗≈…", strict=True))
        keys = "\n".join(f"  {key:<8}{tooltip}" for key, tooltip in self._keys)
        with VerticalScroll(id="help"):
            yield Static(_TEXT.format(**shapes) + "\nKeys\n" + keys, markup=False)
