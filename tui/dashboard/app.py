"""The dashboard: wires a feed of snapshots to the run screen, and keys to what they do."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import Binding, BindingType

from tui.control import Control
from tui.dashboard.feed import Feed
from tui.dashboard.help_screen import HelpScreen
from tui.dashboard.key_in_screen import KeyInScreen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.theme import DARK, LIGHT, VARIABLES
from tui.view.build import SPAN_S, build_view
from tui.view.state import ViewState

if TYPE_CHECKING:
    from textual.driver import Driver

__all__ = ["Dashboard", "make_app"]

_VALUES_PERIOD_S = 0.1
_TICKS_PER_PLOT = 3
_CLOSE_PATIENCE_S = 8.0
_WIDE_COLUMNS = 170


class Dashboard(App[None]):
    """Follows a run; never touches an instrument.

    Attributes:
        run_screen: the screen under whatever lies on top of it.
        view: what is being shown, or None before the first snapshot.
        failure: what went wrong while following, for whoever started the app.
    """

    TITLE = "spinvolt"
    CSS_PATH = "dashboard.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "q",
            "leave",
            "stop & close",
            id="run.leave",
            tooltip="End the run, close its recording and say where it lies",
        ),
        Binding("q", "go", "leave", id="run.go", tooltip="Leave this screen; the recording stays as it is"),
        Binding(
            "ctrl+c,ctrl+q",
            "interrupt",
            "stop & close",
            id="run.interrupt",
            priority=True,
            show=False,
            system=True,
            tooltip="The same as q",
        ),
        Binding("m", "mark", "mark", id="run.mark", tooltip="Write a mark into the recording"),
        Binding("k", "key_in", "key in", id="run.key", tooltip="Type readings off a display"),
        Binding("t", "next_plot", "plot", id="view.plot", tooltip="Next plot, where only one has room"),
        Binding("p", "toggle_plain", "plain", id="view.plain", tooltip="Plain ASCII, or blocks and braille"),
        Binding("l", "toggle_light", "light", id="view.light", tooltip="Light or dark"),
        Binding(
            "question_mark", "help", "help", key_display="?", id="help.open", tooltip="Explain this screen"
        ),
    ]

    def __init__(
        self,
        feed: Feed,
        control: Control,
        *,
        plain: bool = False,
        light: bool | None = None,
        driver_class: type[Driver] | None = None,
    ) -> None:
        super().__init__(driver_class=driver_class)
        self._feed = feed
        self._control = control
        self._plain = plain
        self._light = _terminal_is_light() if light is None else light
        self._ticks = 0
        self._marks = 0
        self._leaving_ticks: int | None = None
        self._trouble = ""
        self.run_screen = RunScreen(plain=plain)
        self.view: ViewState | None = None
        self.failure: BaseException | None = None

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return VARIABLES

    def get_default_screen(self) -> RunScreen:
        """The run screen; others lie on top of it."""
        return self.run_screen

    def on_mount(self) -> None:
        """Start following."""
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = LIGHT.name if self._light else DARK.name
        self._end_on_signals()
        self._feed.start()
        self.set_interval(_VALUES_PERIOD_S, self.tick)

    def on_unmount(self) -> None:
        """Stop following; the recording goes its own way."""
        self._feed.stop()

    def tick(self) -> None:
        """Show the newest snapshot; end when the run that was asked to close has closed."""
        if not self.run_screen.ready:
            return
        try:
            snapshot = self._feed.latest()
        except Exception as error:  # noqa: BLE001 - a border: handed to the command line, which words it
            self.failure = error
            self.exit()
            return
        if snapshot is not None:
            span_s = 2 * SPAN_S if self.size.width >= _WIDE_COLUMNS else SPAN_S
            plots_too = self._ticks % _TICKS_PER_PLOT == 0 or snapshot.finished
            ended = snapshot.finished and not (self.view is not None and self.view.finished)
            self.view = build_view(snapshot, self.view, span_s=span_s, plots_too=plots_too)
            if ended:
                self.refresh_bindings()
            self._show(self.view, plots_too=plots_too)
        self._leave_when_closed()

    def _show(self, view: ViewState, *, plots_too: bool) -> None:
        self.run_screen.show_values(view, self._status(view), self._notice())
        if plots_too:
            self.run_screen.show_plots(view)
        self._ticks += 1

    def _status(self, view: ViewState) -> str:
        if view.finished:
            return "closed"
        return "● recording" if self._control.records else "looking on"

    def _notice(self) -> str:
        if self._leaving_ticks is not None:
            return f"Closing the recording {self._control.path.name} ..."
        return self._trouble or self._control.warning() or self._feed.notice()

    def _leave_when_closed(self) -> None:
        finished = self.view is not None and self.view.finished
        self._trouble = "" if finished else self._control.trouble()
        if self._trouble and self._control.records:
            self.exit()
            return
        if self._leaving_ticks is None:
            return
        self._leaving_ticks += 1
        if finished or self._leaving_ticks * _VALUES_PERIOD_S > _CLOSE_PATIENCE_S:
            self.exit()

    def _fatal_error(self) -> None:
        """Textual's own last border: leave the screen and hand the error on, with no traceback on it."""
        self.failure = self.failure or sys.exc_info()[1]
        self._close_messages_no_wait()

    def action_leave(self) -> None:
        """End the run where it is ours, and go."""
        finished = self.view is not None and self.view.finished
        if finished or not self._control.records or self._leaving_ticks is not None:
            self.exit()
            return
        self._leaving_ticks = 0
        self._control.stop()

    def action_go(self) -> None:
        """Go; there is no run of ours to end."""
        self.action_leave()

    def action_interrupt(self) -> None:
        """End the run where it is ours, from whatever screen, and go."""
        self.action_leave()

    def action_mark(self) -> None:
        """Write a mark."""
        self._marks += 1
        self._control.mark(f"mark {self._marks}")
        self.notify(f"Mark {self._marks} at {self.view.elapsed if self.view else '0:00'}.")

    def action_key_in(self) -> None:
        """Type readings."""
        self.push_screen(KeyInScreen(self._control.typed))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what makes sense: typing, marking and stopping need a run in progress that is ours."""
        ours = self._control.records and not (self.view is not None and self.view.finished)
        wanted = {"key_in": ours and self._control.keyed, "mark": ours, "leave": ours, "go": not ours}
        return wanted.get(action, True)

    def action_next_plot(self) -> None:
        """Next plot."""
        self.run_screen.next_plot()

    def action_toggle_plain(self) -> None:
        """ASCII or not."""
        self._plain = not self._plain
        self.run_screen.set_plain(self._plain)

    def action_toggle_light(self) -> None:
        """Light or dark."""
        self.theme = DARK.name if self.theme == LIGHT.name else LIGHT.name

    def action_help(self) -> None:
        """Explain the screen."""
        keys = [
            (binding.key_display or binding.key.split(",")[0], binding.tooltip)
            for binding in self.BINDINGS
            if isinstance(binding, Binding) and binding.show and self.check_action(binding.action, ())
        ]
        self.push_screen(HelpScreen(keys, plain=self._plain))

    def _end_on_signals(self) -> None:
        """SIGTERM ends a run as the key does; where the system has no such thing, nothing.

        SIGHUP keeps its default, which ends this program at once: the terminal is
        gone, and leaving it in good order would wait for it for ever. The capture
        notices and closes the recording.
        """
        try:
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.action_leave)
        except (NotImplementedError, RuntimeError, ValueError):
            return  # not the main thread, or a system without signals for the loop


def _terminal_is_light() -> bool:
    """What some terminals tell: the last number of COLORFGBG is the background, 7 and 15 are light."""
    return os.environ.get("COLORFGBG", "").rpartition(";")[2] in {"7", "15"}


def make_app(
    feed: Feed,
    control: Control,
    *,
    plain: bool = False,
    light: bool | None = None,
    driver_class: type[Driver] | None = None,
) -> Dashboard:
    """Build the dashboard from its parts; the command line and the tests both do it here."""
    return Dashboard(feed, control, plain=plain, light=light, driver_class=driver_class)
