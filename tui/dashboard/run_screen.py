"""The run screen: follows a feed of snapshots, and hands keys to the run. What it shows comes from the view."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui.dashboard.base_screen import BaseScreen
from tui.dashboard.feed import ThreadFeed
from tui.dashboard.ground import Column, Row
from tui.dashboard.happened import Happened
from tui.dashboard.key_in_screen import KeyInScreen
from tui.dashboard.recording_actions import export_recording, write_report
from tui.dashboard.run_leaving import Leaving
from tui.dashboard.widgets.cramped import LOW_ROWS, CrampedRun, cramped
from tui.dashboard.widgets.happenings import Happenings
from tui.dashboard.widgets.heading import Heading
from tui.dashboard.widgets.health import HealthRows
from tui.dashboard.widgets.nowline import NowLine
from tui.dashboard.widgets.plot import Plot
from tui.dashboard.widgets.rated import RatedOutput
from tui.dashboard.widgets.speed import SpeedGuide
from tui.dashboard.widgets.verdict import VerdictPanel
from tui.text import clean
from tui.view.ending import ended_sentence
from tui.view.health import unseen

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot
    from tui.control import Control
    from tui.dashboard.feed import Feed
    from tui.session import RunEnd
    from tui.view.keyed import Typing
    from tui.view.state import ViewState

__all__ = ["PLOTS", "RunScreen"]

PLOTS = ("rated-trace", "speed-trace", "scatter")
"""The plots in the order in which the key goes through them where only one has room."""

_VALUES_PERIOD_S = 0.1
_UNASKED_PERIOD_S = 0.5
"""The same where the feed says when there is something new."""
_PLOTS_PERIOD_S = 0.49
"""As often as aligned rows come; a column of dots is as long."""
_WIDE_COLUMNS = 170


class RunScreen(BaseScreen):
    """The screen one works by.

    Attributes:
        view: what is being shown, or None before the first snapshot.
    """

    NAME = "run"
    CAPTION = "The run"
    EXPLAINS: ClassVar[tuple[str, ...]] = (
        "Rated output: what the alternator gives at rated speed, unloaded, worked out while the speed moves; "
        "beside it its uncertainty (95\u00a0%).",
        "Verdict: rated output against the machine card's limit. {good}\u00a0pass  {bad}\u00a0fail  "
        "{doubt}\u00a0too close to call  {wait}\u00a0not enough data",
        "Speed: bring the marker into the bracket and hold. The scale opens up near rated speed.",
        "Traces: dots are measured; another colour (x in plain) is left out of the result. Dashed: the limit, or "
        "rated speed. Shaded: the result with its uncertainty, or the window.",
        "Health: age of the newest reading, readings a second, what could not be read.",
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "q",
            "leave",
            "stop & close",
            id="run.leave",
            tooltip="End the run, close its recording and say where it lies",
        ),
        Binding("q", "go", "leave", id="run.go", tooltip="Leave this screen; the recording stays as it is"),
        Binding("s", "stop", "stop", id="run.stop", tooltip="End the run, close its recording and stay here"),
        Binding("m", "mark", "mark", id="run.mark", tooltip="Write a mark into the recording"),
        Binding("k", "key_in", "key in", id="run.key", tooltip="Type readings off a display"),
        Binding(
            "e",
            "export",
            "export",
            id="run.export",
            tooltip="Write the aligned rows as CSV beside the recording",
        ),
        Binding("w", "report", "report", id="run.report", tooltip="Write the report beside the recording"),
        Binding("t", "next_plot", "plot", id="view.plot", tooltip="Next plot, where only one has room"),
    ]

    def __init__(self, feed: Feed, control: Control, *, close: Callable[[], RunEnd] | None = None) -> None:
        """Show a run.

        Args:
            feed: its snapshots.
            control: the way back to it.
            close: closes it for good once it is left; None where whoever made the feed does so.
        """
        super().__init__()
        self.view: ViewState | None = None
        self._feed = feed
        self._control = control
        self._leaving = Leaving(self, control, close)
        self._plot = 0
        self._heard = False
        self._told = Happened(self)
        self._shown: Snapshot | None = None
        self._beside: tuple[int, str, str] = (0, "", "")
        self._plotted_s = -math.inf
        self._marks = 0
        # Held here and not looked up: a last tick may come while the screen is being taken down.
        self._heading = Heading(id="heading")
        self._rated = RatedOutput(id="rated")
        self._verdict = VerdictPanel(id="verdict")
        self._speed = SpeedGuide(id="speed")
        self._now = NowLine(id="now")
        self._health = HealthRows(id="health")
        self._plots = tuple(Plot(id=name) for name in PLOTS)
        self._happenings = Happenings(id="happenings")
        self._cramped = CrampedRun(id="cramped")

    def compose(self) -> ComposeResult:
        rated_trace, speed_trace, scatter = self._plots
        yield self._heading
        yield self._cramped
        with Row(id="top"):
            yield self._rated
            yield self._verdict
        yield self._speed
        yield self._now
        with Row(id="plots"):
            with Column(id="traces"):
                yield rated_trace
                yield speed_trace
            with Column(id="beside"):
                yield scatter
                yield self._happenings
        yield self._health
        yield from self.extra_rows()
        yield from self.foot()

    def extra_rows(self) -> Iterable[Widget]:
        """What else stands above the keys."""
        return ()

    def on_mount(self) -> None:
        """Start following, and say so until the first snapshot is there."""
        self.show_plot(0)
        self._heading.show("", self.status())
        self._now.show(f"Opening {clean(self._control.path.name)} ...", "quiet")
        period_s = _VALUES_PERIOD_S
        if isinstance(self._feed, ThreadFeed):
            self._feed.news = self._hear
            period_s = _UNASKED_PERIOD_S
        self.call_after_refresh(self._feed.start)  # the first frame first: following takes imports of its own
        self.set_interval(period_s, self.tick)

    def on_resize(self) -> None:
        """Say in words what the parts have no room for."""
        self.set_class(cramped(*self.size), "-cramped")
        self.set_class(self.size.height < LOW_ROWS, "-low")

    def _hear(self) -> None:
        """Called in the feed's thread: show what is new in this screen's own turn.

        While one such turn is waited for there is no second: a terminal that stalls
        must not find a queue of them.
        """
        if not self._heard:
            self._heard = True
            self.call_later(self.tick)

    def on_unmount(self) -> None:
        """Stop following; the recording goes its own way."""
        self._feed.stop()

    @property
    def finished(self) -> bool:
        """Whether the run that is shown has ended."""
        return self.view is not None and self.view.finished

    @property
    def cut_off(self) -> bool:
        """Whether the recording that is shown has ended without ever being closed."""
        return self.view is not None and self.view.cut_off

    @property
    def going_on(self) -> bool:
        """Whether a run of ours is in progress here, which must not be lost."""
        return self._control.records and not self.finished

    def tick(self) -> None:
        """Show the newest snapshot; go when the run that was asked to close has closed."""
        self._heard = False
        if not self.ready:
            return
        try:
            snapshot = self._feed.latest()
        except Exception as error:  # noqa: BLE001 - a border: handed to whoever started this
            self._leaving.give_up(error)
            return
        if snapshot is not None:
            self.tell_happened(snapshot)
            if self._in_sight or snapshot.finished:
                self._look_at(snapshot)
        self._leaving.look()

    def _look_at(self, snapshot: Snapshot) -> None:
        """Show a snapshot, unless all of it is on the screen already."""
        # Imported when there is something to show: numpy would double the time to the first frame.
        from tui.view.build import SPAN_S, WIDE_SPAN_S, build_view

        beside = (self.size.width, self.status(), self._notice())
        if snapshot is self._shown and beside == self._beside:
            return
        self._shown, self._beside = snapshot, beside
        now_s = asyncio.get_running_loop().time()
        plots_too = snapshot.finished or now_s - self._plotted_s >= _PLOTS_PERIOD_S
        self._plotted_s = now_s if plots_too else self._plotted_s
        span_s = WIDE_SPAN_S if self.size.width >= _WIDE_COLUMNS else SPAN_S
        before = self.view
        typing: Typing = "key" if self._control.keyed else "elsewhere"
        self.view = build_view(snapshot, before, span_s=span_s, plots_too=plots_too, typing=typing)
        if self.view.finished is not (before is not None and before.finished):
            self.refresh_bindings()
        self._tell_captured(before, self.view)
        self.show_values(self.view, self.status(), self._notice())
        if plots_too:
            self.show_plots(self.view)

    def tell_happened(self, snapshot: Snapshot) -> None:
        """Say what a person must see, on whatever screen he is."""
        self._told.look(snapshot)

    @property
    def _in_sight(self) -> bool:
        """Whether no other screen of ours lies on top; a finished run is taken in all the same."""
        top = self.app.screen
        return top is self or not isinstance(top, BaseScreen)

    def _tell_captured(self, before: ViewState | None, view: ViewState) -> None:
        """Ring once for each hold that a run in progress captures, and say what it gave."""
        known = None if before is None else before.captured
        if view.captured is not None and view.captured != known and self.going_on:
            self.app.bell()
            self.dashboard.tell(view.captured.words, timeout_s=8)

    def status(self) -> str:
        """What stands at the right end of the top row."""
        if self.finished:
            ended = "cut off" if self.cut_off else "closed"
            return f"{ended}; q leaves" if self.is_first else f"{ended}; q goes back"
        return "● recording" if self._control.records else "looking on"

    def _notice(self) -> str:
        if self._leaving.asked:
            return self._control.warning() or f"Closing the recording {self._control.path.name} ..."
        told = self._leaving.trouble or self._control.warning() or self._feed.notice()
        return told or (self.ended_words(self.view) if self.view is not None and self.view.finished else "")

    def ended_words(self, view: ViewState) -> str:
        """The sentence of a run that has ended."""
        return ended_sentence(view, self._control.path.name, first=self.is_first)

    def stop_and(self, then: Callable[[], object]) -> None:
        """Ask for the end of the run; once it is closed, do that. Asked twice, it is done at once."""
        self._leaving.stop_and(then)

    def action_leave(self) -> None:
        """End the run where it is ours, and go."""
        self.stop_and(self._leaving.depart)

    def action_go(self) -> None:
        """Go; there is no run of ours to end."""
        self._leaving.depart()

    def action_stop(self) -> None:
        """End the run and stay."""
        if not self._leaving.asked:
            self.stop_and(lambda: None)

    def action_mark(self) -> None:
        """Write a mark."""
        self._marks += 1
        self._control.mark(f"mark {self._marks}")
        self.dashboard.tell(f"Mark {self._marks} at {self.view.elapsed if self.view else '0:00'}.")

    def action_key_in(self) -> None:
        """Type readings."""
        self.app.push_screen(KeyInScreen(self._control))

    def action_export(self) -> None:
        """Write the aligned rows."""
        export_recording(self, self._control.path)

    def action_report(self) -> None:
        """Write the report."""
        write_report(self, self._control.path)

    def action_next_plot(self) -> None:
        """Next plot."""
        self.show_plot((self._plot + 1) % len(PLOTS))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what makes sense: typing, marking and stopping need a run in progress that is ours."""
        ours = self.going_on
        wanted = {
            "key_in": ours and self._control.keyed,
            "mark": ours,
            "leave": ours,
            "stop": ours,
            "go": not ours,
            "export": not ours,
            "report": not ours,
            "back": not ours and not self.is_first,
        }
        return wanted.get(action, True)

    def show_values(self, view: ViewState, status: str, notice: str) -> None:
        """Show all but the plots; ``notice``, where there is one, takes the sentence's place."""
        self.set_class(
            bool(notice), "-busy"
        )  # where there is little room the guide gives the sentence its rows
        self._heading.show(view.heading, f"{view.elapsed}  {status}")
        self._rated.show(view.rated)
        self._verdict.show(view.verdict)
        self._speed.show(view.speed, view.raw_volts)
        told = view.now_tone if view.cut_off or not notice else "quiet"
        self._now.show(notice or view.now, told)
        self._cramped.show(view, notice or view.now)
        held = self._control.warning()
        self._health.show(tuple(map(unseen, view.health)) if held else view.health)

    def show_plots(self, view: ViewState) -> None:
        """Show the plots, a few times a second."""
        for plot, shown in zip(self._plots, (view.rated_trace, view.speed_trace, view.scatter), strict=True):
            plot.show(shown)
        self._happenings.show(view.messages)

    def show_plot(self, index: int) -> None:
        """Show that plot where only one has room."""
        self._plot = index
        for number, plot in enumerate(self._plots):
            plot.set_class(number == index, "-chosen")
        self.query_one("#plots").set_class(PLOTS[index] == "scatter", "-scatter")
