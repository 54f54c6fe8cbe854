"""Trials at the ports of the connect screen: listened to where the person says so, then read on while chosen."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from daq.errors import SpinvoltError
from daq.finding import Listened, Live
from tui.livetrial import LiveTrial
from tui.view.connect import best
from tui.view.connect_state import KEYBOARD, Trial

if TYPE_CHECKING:
    from tui.dashboard.connect_screen import ConnectScreen

__all__ = ["Trials"]


class Trials:
    """What is opened on behalf of the connect screen; a port is opened by one thing at a time.

    Attributes:
        gone: set once the screen is gone; whatever listens is called off by it.
    """

    def __init__(
        self, screen: ConnectScreen, listen_to: Callable[..., Listened], read_from: Callable[..., Listened]
    ) -> None:
        """Nothing is opened yet.

        Args:
            screen: shows what comes.
            listen_to: listens; as :func:`daq.finding.listen`.
            read_from: reads on; as :func:`daq.finding.read_on`.
        """
        self._screen = screen
        self._listen, self._read_from = listen_to, read_from
        self._lives: list[LiveTrial] = []
        self.gone = threading.Event()

    @property
    def live(self) -> LiveTrial | None:
        """The one that is read on."""
        return next((each for each in self._lives if not each.ended), None)

    @property
    def listening(self) -> bool:
        """Whether a port is being listened to."""
        return any(trial.progress for trial in self._screen.state.trials.values())

    @property
    def all_over(self) -> bool:
        """Whether nothing that was read here holds its port any more."""
        return all(each.is_over for each in self._lives)

    def listen(self, address: str) -> None:
        """Listen at an address, unless another is being listened to."""
        if self.listening or address == KEYBOARD:
            return
        self._screen.set_trial(address, Trial(progress="opening it"))
        self._screen.run_worker(self._tried(address), group="listen")

    def end_live(self) -> None:
        """Read no more."""
        if (live := self.live) is not None:
            live.end()
            if (trial := self._screen.state.trials.get(live.address)) is not None:
                self._screen.set_trial(live.address, replace(trial, live=None))

    async def ports_free(self) -> None:
        """Wait until nothing that was read here holds its port any more."""
        self.end_live()
        for each in self._lives:
            await each.over()

    async def _tried(self, address: str) -> None:
        screen, loop = self._screen, asyncio.get_running_loop()
        used = next((each for each in screen.state.extra if each.address == address and each.card), None)

        def progress(text: str) -> None:
            loop.call_soon_threadsafe(screen.set_trial, address, Trial(progress=text))

        await self.ports_free()
        try:
            cards = (used.card,) if used is not None else ()
            heard = await asyncio.to_thread(
                self._listen, address, cards, on_progress=progress, cancel=self.gone
            )
        except SpinvoltError as error:
            heard = Listened(address, trouble=str(error))
        if self.gone.is_set():
            return
        await asyncio.sleep(0)  # what was told on the way comes first
        screen.set_trial(address, Trial(heard=heard))
        if used is not None and heard.heard and heard.heard[0].is_good:
            screen.take(address)
        self._read_on(address)

    def _read_on(self, address: str) -> None:
        """Read on at an address that was listened to, while its row is the chosen one."""
        screen = self._screen
        heard = best(screen.state, address)
        if heard is None or screen.selected != address or not screen.is_current:
            return

        def show(live: Live | None, lost: str = "") -> None:
            if (trial := screen.state.trials.get(address)) is not None and trial.heard is not None:
                screen.set_trial(address, replace(trial, live=live, lost=lost))

        live = LiveTrial(address, heard, self._read_from, show, lambda lost: show(None, lost))
        self._lives = [*(each for each in self._lives if not each.is_over), live]
        screen.run_worker(live.run(), group="live")
