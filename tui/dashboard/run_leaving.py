"""How a run's screen is left: the run is asked to end, its recording is waited for, and what went wrong is told."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING

from daq.errors import SpinvoltError

if TYPE_CHECKING:
    from tui.control import Control
    from tui.dashboard.run_screen import RunScreen
    from tui.session import RunEnd

__all__ = ["Leaving"]

_CLOSE_PATIENCE_S = 8.0
_LONG_S = 15.0


class Leaving:
    """The way out of a run's screen.

    Attributes:
        trouble: what the capture says is wrong; "" for nothing, and once the run has ended.
    """

    def __init__(self, screen: RunScreen, control: Control, close: Callable[[], RunEnd] | None) -> None:
        """Nothing is asked for yet.

        Args:
            screen: the one to leave.
            control: the way to its run.
            close: closes it for good once it is left; None where whoever made the feed does so.
        """
        self._screen = screen
        self._control = control
        self._close = close
        self.trouble = ""
        self._since_s: float | None = None
        self._then: Callable[[], object] = self.depart
        self._waits_for_close = False
        self._gave_up = ""
        self._end: RunEnd | None = None

    @property
    def asked(self) -> bool:
        """Whether the run was asked to end and has not done so yet."""
        return self._since_s is not None

    def stop_and(self, then: Callable[[], object]) -> None:
        """Ask for the end of the run; once it is closed, do that. Asked twice, it is done at once."""
        self._then = then
        if not self._screen.going_on or self.asked:
            self._go()
            return
        self._since_s = asyncio.get_running_loop().time()
        self._control.stop()

    def look(self) -> None:
        """At each turn: go when the run that was asked to close has closed, or can't go on."""
        finished = self._screen.finished
        self.trouble = "" if finished else self._control.trouble()
        if self.trouble and self._control.records:
            self._go()
            return
        if self._since_s is None:
            return
        if finished or asyncio.get_running_loop().time() - self._since_s > _CLOSE_PATIENCE_S:
            self._go()

    def give_up(self, error: Exception) -> None:
        """End the program where this screen is all there is; else go back and say why."""
        if self._screen.is_first or not isinstance(error, SpinvoltError):
            self._screen.dashboard.fail(error)
            return
        if not self._gave_up:
            self._gave_up = str(error)
            if self._close is None:
                self._tell_given_up()
        self._then = self.depart
        self._go()  # again at every turn: a screen that lies on top may have to go first

    def depart(self) -> None:
        """Go, with the capture waited for where it is this screen's to wait for."""
        close, self._close = self._close, None
        if close is not None:
            self._waits_for_close = True
            self._screen.run_worker(self._depart_closed(close))
        elif not self._waits_for_close:
            self._screen.depart(self._end)

    def _go(self) -> None:
        self._since_s = None
        self._then()

    async def _depart_closed(self, close: Callable[[], RunEnd]) -> None:
        self._end = await asyncio.to_thread(close)
        self._waits_for_close = False
        # A run that kept nothing has no file any more: its end tells why, and better.
        if self._gave_up and not self._end.trouble:
            self._tell_given_up()
        self._screen.depart(self._end)

    def _tell_given_up(self) -> None:
        self._screen.dashboard.tell(self._gave_up, severity="error", timeout_s=_LONG_S)
