"""What every screen has in common: keys with labels, help, plain drawing, and a way out that loses nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual.binding import Binding, BindingType
from textual.screen import Screen

from tui.dashboard.canvas import Canvas

if TYPE_CHECKING:
    from tui.dashboard.app import Dashboard

__all__ = ["BaseScreen"]


class BaseScreen(Screen[Any]):
    """A screen of the dashboard; described with an example where screens are registered.

    Attributes:
        NAME: what the registry calls it.
        CAPTION: what help calls it.
        EXPLAINS: paragraphs of ``?``; ``{good}``, ``{bad}``, ``{doubt}`` and ``{wait}`` become the verdicts' shapes.
        ready: its widgets are there; before that there is nothing to show values on.
    """

    NAME: ClassVar[str] = ""
    CAPTION: ClassVar[str] = ""
    EXPLAINS: ClassVar[tuple[str, ...]] = ()
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("q", "leave", "leave", id="screen.leave", tooltip="Leave this screen"),
        Binding("escape", "back", "back", id="screen.back", show=False, tooltip="Back to the screen beneath"),
    ]
    HORIZONTAL_BREAKPOINTS = [(0, "-slim"), (72, "-narrow"), (110, "-mid"), (170, "-wide")]
    VERTICAL_BREAKPOINTS = [(0, "-tiny"), (22, "-short"), (34, "-tall"), (52, "-huge")]

    def __init__(self) -> None:
        super().__init__()
        self.ready = False

    @property
    def dashboard(self) -> Dashboard:
        """The app, by its own type."""
        return cast("Dashboard", self.app)

    @property
    def is_first(self) -> bool:
        """Whether no screen of ours lies beneath, so that leaving it leaves the program."""
        return self.app.screen_stack[0] is self

    def on_mount(self) -> None:
        """Draw as the app was told to."""
        self.draw_plain(self.dashboard.plain)
        self.ready = True

    def on_screen_resume(self) -> None:
        """Draw as the app was told to while another screen was in front."""
        self.draw_plain(self.dashboard.plain)

    def draw_plain(self, plain: bool) -> None:
        """Draw with ASCII only, or not; the style sheet sees the class ``-plain``."""
        if self.has_class("-plain") is plain and self.ready:
            return
        self.set_class(plain, "-plain")
        for canvas in self.query(Canvas):
            canvas.set_plain(plain)

    def action_leave(self) -> None:
        """Leave this screen."""
        self.depart()

    def action_back(self) -> None:
        """Back to the screen beneath."""
        self.depart()

    def depart(self, told: object = None) -> None:
        """Go: back to the screen beneath with what is to be told to it, or out of the program."""
        if self.is_first:
            self.app.exit()
        elif self.is_current:
            self.dismiss(told)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what makes sense here."""
        return not (action == "back" and self.is_first)
