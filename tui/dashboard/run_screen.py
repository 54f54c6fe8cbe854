"""The run screen: where things stand on it. What they show comes from the view."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.screen import Screen
from textual.widgets import Footer

from tui.dashboard.canvas import Canvas
from tui.dashboard.widgets.happenings import Happenings
from tui.dashboard.widgets.heading import Heading
from tui.dashboard.widgets.health import HealthRows
from tui.dashboard.widgets.nowline import NowLine
from tui.dashboard.widgets.plot import Plot
from tui.dashboard.widgets.rated import RatedOutput
from tui.dashboard.widgets.speed import SpeedGuide
from tui.dashboard.widgets.verdict import VerdictPanel
from tui.view.state import ViewState

__all__ = ["PLOTS", "RunScreen"]

PLOTS = ("rated-trace", "speed-trace", "scatter")
"""The plots in the order in which the key goes through them where only one has room."""


class RunScreen(Screen[None]):
    """The screen one works by.

    Attributes:
        ready: its widgets are there; before that there is nothing to show values on.
    """

    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-mid"), (170, "-wide")]
    VERTICAL_BREAKPOINTS = [
        (0, "-tiny"),
        (22, "-short"),
        (34, "-tall"),
        (52, "-huge"),
    ]

    def __init__(self, *, plain: bool) -> None:
        super().__init__()
        self._plain = plain
        self._plot = 0
        self.ready = False
        # Held here and not looked up: a last tick may come while the screen is being taken down.
        self._heading = Heading(id="heading")
        self._rated = RatedOutput(id="rated")
        self._verdict = VerdictPanel(id="verdict")
        self._speed = SpeedGuide(id="speed")
        self._now = NowLine(id="now")
        self._health = HealthRows(id="health")
        self._plots = tuple(Plot(id=name) for name in PLOTS)
        self._happenings = Happenings(id="happenings")

    def compose(self) -> ComposeResult:
        rated_trace, speed_trace, scatter = self._plots
        yield self._heading
        with Horizontal(id="top"):
            yield self._rated
            yield self._verdict
        yield self._speed
        yield self._now
        with Horizontal(id="plots"):
            with Vertical(id="traces"):
                yield rated_trace
                yield speed_trace
            with Vertical(id="beside"):
                yield scatter
                yield self._happenings
        yield self._health
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Start as asked."""
        self.set_plain(self._plain)
        self.show_plot(0)
        self.ready = True

    def show_values(self, view: ViewState, status: str, notice: str) -> None:
        """Show all but the plots; ``notice``, where there is one, takes the sentence's place."""
        self._heading.show(view.heading, f"{view.elapsed}  {status}")
        self._rated.show(view.rated)
        self._verdict.show(view.verdict)
        self._speed.show(view.speed, view.raw_volts)
        self._now.show(notice or view.now, "quiet" if notice else view.now_tone)
        self._health.show(view.health)

    def show_plots(self, view: ViewState) -> None:
        """Show the plots, a few times a second."""
        for plot, shown in zip(self._plots, (view.rated_trace, view.speed_trace, view.scatter), strict=True):
            plot.show(shown)
        self._happenings.show(view.messages)

    def next_plot(self) -> None:
        """Go to the next plot where only one has room."""
        self.show_plot((self._plot + 1) % len(PLOTS))

    def show_plot(self, index: int) -> None:
        """Show that plot where only one has room."""
        self._plot = index
        for number, plot in enumerate(self._plots):
            plot.set_class(number == index, "-chosen")
        self.query_one("#plots").set_class(PLOTS[index] == "scatter", "-scatter")

    def set_plain(self, plain: bool) -> None:
        """Draw with ASCII only, or not."""
        for canvas in self.query(Canvas):
            canvas.set_plain(plain)
