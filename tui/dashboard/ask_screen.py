"""A page before something is done: what must be seen to, and where it is needed a line to type into."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input

from tui.dashboard.base_screen import BaseScreen
from tui.dashboard.widgets.heading import Heading
from tui.dashboard.widgets.sections import Sections
from tui.view.job_state import Section, Sentence

__all__ = ["AskScreen"]

_LONGEST = 500


class AskScreen(BaseScreen):
    """Enter goes on, Esc goes back; what was typed, or True, is told to whoever asked."""

    NAME = "ask"
    CAPTION = "Before it is done"
    EXPLAINS: ClassVar[tuple[str, ...]] = (
        "What must be seen to first: where the leads and the dial go, how the machine is set up, and the cautions.",
        "The machine's service manual comes before all of it.",
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "go_on", "go on", key_display="enter", id="ask.go", tooltip="Go on"),
        Binding("escape", "back", "back", id="ask.back", tooltip="Back, with nothing done"),
        Binding("pagedown", "turn(1)", "more", key_display="pgdn", id="ask.more", tooltip="Read on below"),
        Binding("pageup", "turn(-1)", "up", id="ask.up", show=False, tooltip="Read again above"),
    ]
    CSS_PATH = "ask_screen.tcss"

    def __init__(
        self,
        title: str,
        sections: tuple[Section, ...],
        *,
        take: Callable[[str], str] | None = None,
        example: str = "",
    ) -> None:
        """Ask.

        Args:
            title: what is about to be done.
            sections: what must be seen to.
            take: takes what was typed and gives "", or a sentence on why it can't; None: nothing is typed.
            example: what may be typed, shown where nothing is typed yet.
        """
        super().__init__()
        self._title = title
        self._sections = sections
        self._take = take
        self._example = example
        self._page = Sections(id="ready")
        self._answer = Sections(id="asked")

    def compose(self) -> ComposeResult:
        yield Heading(id="heading")
        yield self._page
        yield self._answer
        if self._take is not None:
            yield Input(placeholder=f"such as {self._example}", id="typed", max_length=_LONGEST)
        yield from self.foot()

    def on_mount(self) -> None:
        """Show what was asked; what was told before would take room from the cautions."""
        self.dashboard.forget_told()
        self.query_one(Heading).show(self._title, "")
        self._page.show(self._sections)
        self._say("")

    def _say(self, trouble: str) -> None:
        asked = Sentence("Type it, then Enter." if self._take else "Enter when all is set.", "strong", "▶")
        self._answer.show((Section("", (Sentence(trouble, "bad", "✗") if trouble else asked,)),))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Letters are typed where something is asked for; Esc leaves in any case."""
        if action == "leave":
            return False
        return True if action == "back" else super().check_action(action, parameters)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Hand what was typed on; it stays to be mended where it can't be taken."""
        event.stop()
        if self._take is None or not event.value.strip():
            return
        trouble = self._take(event.value)
        if trouble:
            self._say(trouble)
        else:
            self.depart(event.value)

    def action_go_on(self) -> None:
        """Go on, where nothing is typed."""
        if self._take is None:
            self.depart(True)

    def action_turn(self, by: int) -> None:
        """Read on, or back."""
        self._page.turn(by * self._page.page)
