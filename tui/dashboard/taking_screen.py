"""A reading of a job while it is recorded. The capture is that of any run; what is asked of the engine is the job's."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult

from tui.dashboard.run_screen import RunScreen
from tui.dashboard.widgets.bigreading import BigReading
from tui.dashboard.widgets.plot import Plot
from tui.view.taking import Taking, TakingView, taking_view

if TYPE_CHECKING:
    from tui.control import Control
    from tui.dashboard.feed import Feed
    from tui.session import RunEnd
    from tui.view.state import ViewState

__all__ = ["TakingScreen"]

_NOT_HERE = frozenset({"next_plot", "export", "report"})


class TakingScreen(RunScreen):
    """The reading, large; the rated output is not what is looked for here."""

    NAME = "taking"
    CAPTION = "A reading of the job"
    EXPLAINS: ClassVar[tuple[str, ...]] = (
        "The reading as it comes, with its unit; what the engine is to do stands below it, and how long it takes.",
        "The recording ends by itself when its time is over. q closes it, also before its time, and the job takes "
        "it in.",
        "Health: age of the newest reading, readings a second, what could not be read.",
    )
    CSS_PATH = "taking_screen.tcss"

    def __init__(
        self, feed: Feed, control: Control, taking: Taking, *, close: Callable[[], RunEnd] | None = None
    ) -> None:
        """Show a reading while it is recorded.

        Args:
            feed: snapshots of its recording.
            control: the way back to it.
            taking: what is recorded.
            close: closes it for good once it is left.
        """
        super().__init__(feed, control, close=close)
        self._taking = taking
        self._reading = BigReading(id="reading")
        self._trace = Plot(id="trace")
        self.taken: TakingView | None = None

    def compose(self) -> ComposeResult:
        yield self._heading
        yield self._reading
        yield self._now
        yield self._trace
        yield self._health
        yield from self.foot()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What belongs to the rated output is not offered."""
        return False if action in _NOT_HERE else super().check_action(action, parameters)

    def show_values(self, view: ViewState, status: str, notice: str) -> None:
        """Show the reading."""
        if self._shown is None:
            return
        self.taken = taken = taking_view(self._shown, self._taking, self.taken)
        self._heading.show(view.heading, f"{taken.elapsed}  {status}")
        self._reading.show(taken)
        self._now.show(notice or taken.now, "quiet" if notice else taken.now_tone)
        self._health.show(taken.health)

    def show_plots(self, view: ViewState) -> None:
        """Show the reading over time."""
        if self.taken is not None:
            self._trace.show(self.taken.trace)

    def show_plot(self, index: int) -> None:
        """There is one."""
