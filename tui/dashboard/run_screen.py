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

    def compose(self) -> ComposeResult:
        yield Heading(id="heading")
        with Horizontal(id="top"):
            yield RatedOutput(id="rated")
            yield VerdictPanel(id="verdict")
        yield SpeedGuide(id="speed")
        yield NowLine(id="now")
        with Horizontal(id="plots"):
            with Vertical(id="traces"):
                yield Plot(id="rated-trace")
                yield Plot(id="speed-trace")
            with Vertical(id="beside"):
                yield Plot(id="scatter")
                yield Happenings(id="happenings")
        yield HealthRows(id="health")
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Start as asked."""
        self.set_plain(self._plain)
        self.show_plot(0)
        self.ready = True

    def show_values(self, view: ViewState, status: str, notice: str) -> None:
        """Show all but the plots; ``notice``, where there is one, takes the sentence's place."""
        self.query_one(Heading).show(view.heading, f"{view.elapsed}  {status}")
        self.query_one(RatedOutput).show(view.rated)
        self.query_one(VerdictPanel).show(view.verdict)
        self.query_one(SpeedGuide).show(view.speed, view.raw_volts)
        self.query_one(NowLine).show(notice or view.now, "quiet" if notice else view.now_tone)
        self.query_one(HealthRows).show(view.health)

    def show_plots(self, view: ViewState) -> None:
        """Show the plots, a few times a second."""
        self.query_one("#rated-trace", Plot).show(view.rated_trace)
        self.query_one("#speed-trace", Plot).show(view.speed_trace)
        self.query_one("#scatter", Plot).show(view.scatter)
        self.query_one(Happenings).show(view.messages)

    def next_plot(self) -> None:
        """Go to the next plot where only one has room."""
        self.show_plot((self._plot + 1) % len(PLOTS))

    def show_plot(self, index: int) -> None:
        """Show that plot where only one has room."""
        self._plot = index
        for number, name in enumerate(PLOTS):
            self.query_one(f"#{name}").set_class(number == index, "-chosen")
        self.query_one("#plots").set_class(PLOTS[index] == "scatter", "-scatter")

    def set_plain(self, plain: bool) -> None:
        """Draw with ASCII only, or not."""
        for canvas in self.query(Canvas):
            canvas.set_plain(plain)
