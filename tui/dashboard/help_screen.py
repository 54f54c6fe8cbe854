"""What a screen shows and which key does what."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from tui.dashboard.plain import plain_text

__all__ = ["HelpScreen"]

_SHAPES = {"good": "✓", "bad": "✗", "doubt": "≈", "wait": "…"}
_PLAIN_SHAPES = {"good": "+", "bad": "x", "doubt": "~", "wait": "."}


class HelpScreen(ModalScreen[None]):
    """Any of its keys closes it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "escape,question_mark,q,enter",
            "dismiss",
            "close",
            id="help.close",
            tooltip="Back to the screen that was explained",
        ),
    ]

    def __init__(
        self, keys: Sequence[tuple[str, str]], paragraphs: Sequence[str], *, title: str, plain: bool
    ) -> None:
        super().__init__()
        self._keys = keys
        self._paragraphs = paragraphs
        self._title = title
        self._plain = plain

    def compose(self) -> ComposeResult:
        shapes = _PLAIN_SHAPES if self._plain else _SHAPES
        widest = max((len(key) for key, _ in self._keys), default=0)
        keys = "\n".join(f"{key:<{widest}}  {tooltip}" for key, tooltip in self._keys)
        with VerticalScroll(id="help", classes="plain" if self._plain else ""):
            yield Static(self._title, markup=False, classes="title")
            yield Static(plain_text(keys) if self._plain else keys, markup=False, classes="keys")
            for paragraph in self._paragraphs:
                words = paragraph.format(**shapes)
                yield Static(plain_text(words) if self._plain else words, markup=False)
