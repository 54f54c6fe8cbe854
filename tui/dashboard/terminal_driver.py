"""Textual's driver for a terminal, for a program that is suspended and goes on.

The driver as it is begins anew at every SIGCONT, also where nothing was ended
before, as after SIGSTOP: a second thread then reads keys beside the first (of the
two that see one key, one waits for ever, and the program's end waits for it), and
the terminal's settings as they were before the program are forgotten. It also works
within signal handlers, which may interrupt the very queue that they write to, and
leaves to the screen what another program wrote on it.
Here everything is ended before it begins anew, and from the loop.
"""

from __future__ import annotations

import contextlib
import signal
import termios
from typing import Any

from textual.drivers.linux_driver import LinuxDriver

__all__ = ["TerminalDriver"]

_PUT_ASIDE = "\nspinvolt is put aside; a run in progress goes on being recorded. Type fg to come back."


class TerminalDriver(LinuxDriver):
    """A terminal that the person may have back for a while, by Ctrl-Z and fg, or by SIGSTOP and SIGCONT."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._started = False
        # Its own handlers work wherever the program is interrupted.
        signal.signal(signal.SIGTSTP, signal.SIG_DFL)
        signal.signal(signal.SIGCONT, signal.SIG_DFL)

    def start_application_mode(self) -> None:
        """Draw, once the terminal is this program's."""
        self._wait_for_terminal()
        super().start_application_mode()  # type: ignore[no-untyped-call] # Textual's has no types
        self._started = True
        self._loop.add_signal_handler(signal.SIGTSTP, self._put_aside)
        self._loop.add_signal_handler(signal.SIGCONT, self._begin_anew)

    def stop_application_mode(self) -> None:
        """Leave the terminal as it was found."""
        self._started = False
        self._loop.remove_signal_handler(signal.SIGTSTP)
        self._loop.remove_signal_handler(signal.SIGCONT)
        super().stop_application_mode()

    def _put_aside(self) -> None:
        """Give the terminal back and stop; the system lets none stop whom no shell could let go on."""
        if not self._started:
            return
        self.suspend_application_mode()
        print(_PUT_ASIDE, file=self._file, flush=True)
        signal.raise_signal(signal.SIGTSTP)
        self._must_signal_resume = True
        self.start_application_mode()

    def _begin_anew(self) -> None:
        """Go on after a stop that nobody announced; whoever had the terminal meanwhile may have changed it."""
        if not self._started:
            return
        self._wait_for_terminal()
        # The thread that reads keys ends first: what ends it else throws away what was typed meanwhile.
        self.exit_event.set()
        if self._key_thread is not None:
            self._key_thread.join()
        self.suspend_application_mode()
        self.exit_event.clear()
        self._must_signal_resume = True
        self.start_application_mode()

    def _wait_for_terminal(self) -> None:
        """In the background stop, as any program that would change the terminal, until it is let to the front."""
        with contextlib.suppress(termios.error):
            termios.tcsetattr(self.fileno, termios.TCSANOW, termios.tcgetattr(self.fileno))
