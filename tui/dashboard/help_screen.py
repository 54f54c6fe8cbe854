"""What the screen shows and which key does what."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

__all__ = ["HelpScreen"]

_TEXT = (
    "Rated output: what the alternator gives at rated speed, unloaded, worked out while the speed moves; "
    "beside it its uncertainty (95\u00a0%).",
    "Verdict: rated output against the machine card's limit. {0}\u00a0pass  {1}\u00a0fail  "
    "{2}\u00a0too close to call  {3}\u00a0not enough data",
    "Speed: bring the marker into the bracket and hold. The scale opens up near rated speed.",
    "Traces: dots are measured; another colour (x in plain) is left out of the result. Dashed: the limit, or "
    "rated speed. Shaded: the result with its uncertainty, or the window.",
    "Health: age of the newest reading, readings a second, what could not be read.",
)


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
        shapes = "+x~." if self._plain else "✓✗≈…"
        keys = "\n".join(f"{key:<4}{tooltip}" for key, tooltip in self._keys)
        with VerticalScroll(id="help", classes="plain" if self._plain else ""):
            yield Static(keys, markup=False, classes="keys")
            for paragraph in _TEXT:
                yield Static(paragraph.format(*shapes), markup=False)
