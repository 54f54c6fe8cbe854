"""What every screen has in common: keys with labels, help, plain drawing, and a way out that loses nothing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual.binding import Binding, BindingType
from textual.screen import ModalScreen, Screen
from textual.widget import Widget

from tui.dashboard.canvas import Canvas
from tui.dashboard.ground import Ground
from tui.dashboard.widgets.keybar import KeyBar
from tui.dashboard.widgets.messages import Messages

if TYPE_CHECKING:
    from tui.dashboard.app import Dashboard
    from tui.view.told import Told

__all__ = ["BaseScreen"]


class BaseScreen(Ground, Screen[Any]):
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
        self._messages = Messages(id="messages")

    @property
    def dashboard(self) -> Dashboard:
        """The app, by its own type."""
        return cast("Dashboard", self.app)

    @property
    def is_first(self) -> bool:
        """Whether no screen of ours lies beneath, so that leaving it leaves the program."""
        return self.app.screen_stack[0] is self

    def on_compose(self) -> None:
        """Lay out for the terminal's size from the first: else all would be styled and laid out twice."""
        for room, breakpoints in zip(
            self.app.size, (self.HORIZONTAL_BREAKPOINTS, self.VERTICAL_BREAKPOINTS), strict=True
        ):
            self.add_class(max(point for point in breakpoints if point[0] <= room)[1], update=False)

    def on_mount(self) -> None:
        """Draw as the app was told to."""
        self.draw_plain(self.dashboard.plain)
        self.ready = True
        self.show_told(self.dashboard.told)

    def foot(self) -> Iterable[Widget]:
        """The last rows of every screen, for :meth:`compose`: what is told for a while, and the keys."""
        yield self._messages
        yield KeyBar(id="keys")

    def show_told(self, told: tuple[Told, ...]) -> None:
        """Show what is told now."""
        self._messages.show(told)

    def on_resize(self) -> None:
        """What is told may need more rows, or fewer."""
        self._messages.screen_resized()

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
        """Go: back to the screen beneath with what is to be told to it, or out of the program.

        A dialog that is still open on top goes first; under another screen of ours it stays.
        """
        if self.is_first:
            self.app.exit()
            return
        while self.app.screen is not self and isinstance(self.app.screen, ModalScreen):
            self.app.pop_screen()
        if self.app.screen is self:
            self.dismiss(told)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what makes sense here."""
        return not (action == "back" and self.is_first)
