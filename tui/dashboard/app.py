"""The dashboard: holds the screens, how they are drawn, the runs that were started here, and the way out."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from collections.abc import Callable, Iterable
from functools import partial
from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType

from daq.errors import SpinvoltError
from tui.dashboard.base_screen import BaseScreen
from tui.dashboard.help_screen import HelpScreen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.screens import PLACES, place_named
from tui.dashboard.theme import DARK, LIGHT, VARIABLES
from tui.terminal import BROWSER_VARIABLE, keys_come_from_terminal
from tui.text import clean
from tui.view.told import Told, added

if TYPE_CHECKING:
    from pathlib import Path

    from textual.dom import DOMNode
    from textual.driver import Driver
    from textual.screen import Screen

    from daq.capture.spec import CaptureSpec
    from tui.control import Control
    from tui.dashboard.feed import Feed
    from tui.session import LiveSession, RunEnd
    from tui.view.told import Severity

__all__ = ["Dashboard", "make_app"]

_TERMINAL_LOOK_S = 1.0


def _place_bindings() -> list[BindingType]:
    return [
        Binding(
            place.key, f"go_to('{place.name}')", place.label, id=f"go.{place.name}", tooltip=place.tooltip
        )
        for place in PLACES
    ]


class Dashboard(App[None]):
    """Shows screens; never touches an instrument.

    Attributes:
        plain: draw with ASCII only.
        failure: what went wrong, for whoever started the app.
        told: what is being said at this moment, oldest first.
    """

    TITLE = "spinvolt"
    CSS_PATH: ClassVar[str] = "dashboard.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "ctrl+c,ctrl+q",
            "interrupt",
            "leave",
            id="app.interrupt",
            priority=True,
            show=False,
            system=True,
            tooltip="Leave the program; a run in progress is closed properly",
        ),
        *_place_bindings(),
        Binding(
            "ctrl+z",
            "suspend_process",
            "put aside",
            id="app.suspend",
            priority=True,
            show=False,
            system=True,
            tooltip="Back to the shell for a while; a run goes on being recorded, and fg brings its screen back",
        ),
        Binding("p", "toggle_plain", "plain", id="view.plain", tooltip="Plain ASCII, or blocks and braille"),
        Binding("l", "toggle_light", "light", id="view.light", tooltip="Light or dark"),
        Binding(
            "question_mark", "help", "help", key_display="?", id="help.open", tooltip="Explain this screen"
        ),
    ]

    def __init__(
        self,
        first: BaseScreen,
        *,
        plain: bool = False,
        light: bool | None = None,
        driver_class: type[Driver] | None = None,
    ) -> None:
        # The first screen is never pushed, so its style sheet comes in here.
        super().__init__(driver_class=driver_class, css_path=[self.CSS_PATH, *first.css_path])
        self.plain = plain
        self.failure: BaseException | None = None
        self.told: tuple[Told, ...] = ()
        self._light = _terminal_is_light() if light is None else light
        self._first = first
        self._sessions: list[LiveSession] = []
        self._starting = False

    def get_driver_class(self) -> type[Driver]:
        """Textual's choice; on a terminal one that can be suspended."""
        if sys.platform == "win32" or os.environ.get(BROWSER_VARIABLE):
            return super().get_driver_class()
        from tui.dashboard.terminal_driver import TerminalDriver

        return TerminalDriver

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return VARIABLES

    def get_default_screen(self) -> BaseScreen:
        """The screen that lies beneath all others."""
        return self._first

    @property
    def first(self) -> BaseScreen:
        """The screen that lies beneath all others."""
        return self._first

    @property
    def run_screen(self) -> RunScreen:
        """The run screen that is nearest to the front.

        Raises:
            LookupError: there is none.
        """
        for screen in reversed(self.screen_stack):
            if isinstance(screen, RunScreen):
                return screen
        raise LookupError("no run is being shown")

    def on_mount(self) -> None:
        """Put the colours on."""
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = LIGHT.name if self._light else DARK.name
        self.set_class(self.plain, "-plain")
        self._end_on_signals()
        self.app_resume_signal.subscribe(self, self._draw_again)
        if keys_come_from_terminal():
            self.set_interval(_TERMINAL_LOOK_S, self._end_without_terminal)

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Every action that is offered on the screen, by its label."""
        for node, binding, tooltip in self._offered(screen):
            name = f"{binding.description.capitalize()} ({self.get_key_display(binding)})"
            yield SystemCommand(name, tooltip, partial(self.run_action, binding.action, node))

    def _offered(self, screen: Screen[object]) -> list[tuple[DOMNode, Binding, str]]:
        """What can be done on a screen, each action once, those of the whole program last."""
        first: dict[str, tuple[DOMNode, Binding, str]] = {}
        for node, binding, enabled, tooltip in screen.active_bindings.values():
            if enabled and tooltip and binding.id:
                first.setdefault(binding.action, (node, binding, tooltip))
        return sorted(first.values(), key=lambda offered: offered[1].system)

    def tell(
        self, sentence: str, *, title: str = "", severity: Severity = "information", timeout_s: float = 5.0
    ) -> None:
        """Say something for a while, above the keys of whatever screen; a name in it can't drive the screen."""
        text = clean(f"{title}: {sentence}" if title else sentence, 500)
        message = Told(text, severity)
        self._show_told(added(self.told, message))
        self.set_timer(timeout_s, lambda: self._forget(message))

    def forget_told(self) -> None:
        """Say nothing any more."""
        self._show_told(())

    def _forget(self, message: Told) -> None:
        self._show_told(tuple(each for each in self.told if each is not message))

    def _show_told(self, told: tuple[Told, ...]) -> None:
        self.told = told
        for screen in self.screen_stack:
            if isinstance(screen, BaseScreen) and screen.ready:
                screen.show_told(told)

    def action_go_to(self, name: str) -> None:
        """Go to a screen; back to it where it lies beneath and no run in progress would be left."""
        for depth, screen in enumerate(reversed(self.screen_stack)):
            if isinstance(screen, RunScreen) and screen.going_on:
                break
            if isinstance(screen, BaseScreen) and screen.NAME == name:
                for _ in range(depth):
                    self.pop_screen()
                return
        self.push_screen(place_named(name).make())

    def show_recording(self, path: Path, *, from_start: bool = False) -> None:
        """Show a recording on top of this screen: its result, or the run from its beginning.

        One that is being recorded at this moment is watched.
        """
        from tui.dashboard.opening import recording_screen

        try:
            self.push_screen(recording_screen(path, from_start=from_start))
        except SpinvoltError as error:
            self.tell(str(error), severity="error", timeout_s=15)

    def show_comparison(self, before: Path, after: Path) -> None:
        """Show two recordings beside each other, on top of this screen."""
        from tui.dashboard.compare_screen import CompareScreen

        self.push_screen(CompareScreen(before, after))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A screen offers no way to itself, and what is no terminal none to the shell."""
        if action == "suspend_process":
            return self._driver is not None and self._driver.can_suspend
        screen = self.screen_stack[-1] if self.screen_stack else None
        return not (action == "go_to" and isinstance(screen, BaseScreen) and parameters == (screen.NAME,))

    def begin_run(
        self,
        spec: CaptureSpec,
        then: Callable[[RunEnd], None] | None = None,
        *,
        screen_of: Callable[[LiveSession], RunScreen] | None = None,
    ) -> None:
        """Start a capture and show it on a run screen.

        Args:
            spec: what to record; :func:`tui.runspec.make_spec` makes one.
            then: told how it ended, once the person has left the run screen.
            screen_of: makes the screen that shows it; None: the run screen as it is.
        """
        if self._starting or self.run_going_on:
            self.tell("A run is going on already; stop it first.", severity="warning")
            return
        self._starting = True
        self.run_worker(self._begin_run(spec, then, screen_of), group="begin-run")

    async def _begin_run(
        self,
        spec: CaptureSpec,
        then: Callable[[RunEnd], None] | None,
        screen_of: Callable[[LiveSession], RunScreen] | None,
    ) -> None:
        from tui.session import LiveSession

        try:
            session = await asyncio.to_thread(LiveSession, spec)
        except SpinvoltError as error:
            self.tell(str(error), title="The run did not start", severity="error", timeout_s=15)
            return
        finally:
            self._starting = False
        self._sessions.append(session)
        make = screen_of or _run_screen
        self.push_screen(
            make(session),
            callback=lambda end: then(end) if then is not None and end is not None else None,
        )

    @property
    def run_going_on(self) -> bool:
        """Whether a run of ours is in progress on any screen."""
        return any(isinstance(screen, RunScreen) and screen.going_on for screen in self.screen_stack)

    def leave(self) -> None:
        """Leave the program; a run in progress is closed first."""
        for screen in self.screen_stack:
            if isinstance(screen, RunScreen) and screen.going_on:
                screen.stop_and(self.exit)
                return
        self.exit()

    def close_sessions(self) -> list[RunEnd]:
        """Close whatever run was started here and is open still; tells of those. For after the app."""
        return [session.close() for session in self._sessions]

    def fail(self, error: BaseException) -> None:
        """Hand an error to whoever started the app, and end it."""
        self.failure = self.failure or error
        self.exit()

    def _fatal_error(self) -> None:
        """Textual's own last border: leave the screen and hand the error on, with no traceback on it."""
        self.failure = self.failure or sys.exc_info()[1]
        self._close_messages_no_wait()

    def action_interrupt(self) -> None:
        """Close a run in progress and leave, from whatever screen."""
        self.leave()

    def action_command_palette(self) -> None:
        """Open the command palette, with its hint in ASCII."""
        from textual.command import CommandPalette

        if self.use_command_palette and not CommandPalette.is_open(cast("App[object]", self)):
            self.push_screen(CommandPalette(placeholder="Search for commands ...", id="--command-palette"))

    def action_suspend_process(self) -> None:
        """Stop as by Ctrl-Z elsewhere: with whatever it was started by, which else would hold the terminal."""
        os.kill(0, signal.SIGTSTP)

    def _draw_again(self, _app: App[object]) -> None:
        """Draw all of it: another program may have drawn over it."""
        self.screen.refresh()

    def action_toggle_plain(self) -> None:
        """ASCII or not."""
        self.plain = not self.plain
        self.set_class(self.plain, "-plain")
        for screen in self.screen_stack:
            if isinstance(screen, BaseScreen):
                screen.draw_plain(self.plain)

    def action_toggle_light(self) -> None:
        """Light or dark."""
        self.theme = DARK.name if self.theme == LIGHT.name else LIGHT.name

    def action_help(self) -> None:
        """Explain the screen."""
        screen = self.screen
        if isinstance(screen, BaseScreen):
            keys = [(self.get_key_display(binding), tooltip) for _, binding, tooltip in self._offered(screen)]
            keys.append(("^p", "All of these by name: the command palette"))
            self.push_screen(HelpScreen(keys, screen.EXPLAINS, title=screen.CAPTION, plain=self.plain))

    def _end_without_terminal(self) -> None:
        """A terminal that is gone ends this program as SIGHUP does.

        That signal comes only to those whose own terminal it was; the others would
        ask a closed terminal for keys without end.
        """
        if not keys_come_from_terminal():
            signal.raise_signal(signal.SIGHUP)

    def _end_on_signals(self) -> None:
        """SIGTERM ends a run as the key does, and a second one this program at once; without such signals, nothing.

        A terminal that takes nothing holds the loop up, and would hold up the leaving too.

        SIGHUP gets its default, which ends this program at once, also where whoever
        started it had it ignored: the terminal is
        gone, and leaving it in good order would wait for it for ever. The capture
        notices and closes the recording, whichever it was.
        """
        try:
            signal.signal(signal.SIGHUP, signal.SIG_DFL)
            loop = asyncio.get_running_loop()
            signal.signal(signal.SIGTERM, lambda *_: self._asked_to_end(loop))
        except (AttributeError, ValueError):
            return  # not the main thread, or a system without these signals

    def _asked_to_end(self, loop: asyncio.AbstractEventLoop) -> None:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        try:
            loop.call_soon_threadsafe(self.leave)
        except RuntimeError:  # the loop has ended
            signal.raise_signal(signal.SIGTERM)


def _run_screen(session: LiveSession) -> RunScreen:
    return RunScreen(session.feed, session.control, close=session.close)


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
    """The dashboard with a run on it; the command line and the tests both do it here."""
    return Dashboard(RunScreen(feed, control), plain=plain, light=light, driver_class=driver_class)
