"""A trial reading that goes on while its row is chosen: one at a time, and its port is free when it has ended."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from daq.errors import SpinvoltError

if TYPE_CHECKING:
    from daq.finding import Heard, Listened, Live

__all__ = ["LiveTrial"]


class LiveTrial:
    """Reads one instrument in a thread until it is ended.

    Attributes:
        address: where.
        ended: it has been told to end.
    """

    def __init__(
        self,
        address: str,
        heard: Heard,
        read_on: Callable[..., Listened],
        told: Callable[[Live], None],
        failed: Callable[[str], None],
    ) -> None:
        """Make one; :meth:`run` reads.

        Args:
            address: where.
            heard: the card, and the line as it was heard.
            read_on: reads; as :func:`daq.finding.read_on`.
            told: called in the loop with the newest readings.
            failed: called in the loop with a sentence where it ended by itself.
        """
        self.address = address
        self._heard = heard
        self._read_on = read_on
        self._told, self._failed = told, failed
        self._cancel = threading.Event()
        self._over = asyncio.Event()

    @property
    def ended(self) -> bool:
        """Whether it is not to go on."""
        return self._cancel.is_set()

    @property
    def is_over(self) -> bool:
        """Whether its port is free."""
        return self._over.is_set()

    async def run(self) -> None:
        """Read until :meth:`end`, or until the instrument is gone."""
        loop = asyncio.get_running_loop()

        def on_live(live: Live) -> None:
            if not self.ended:
                loop.call_soon_threadsafe(self._tell, live)

        try:
            heard = self._heard
            answer = await asyncio.to_thread(
                self._read_on, self.address, heard.card, heard.line, on_live, self._cancel
            )
            trouble = answer.trouble
        except SpinvoltError as error:
            trouble = str(error)
        finally:
            self._over.set()
        if trouble and not self.ended:
            self._failed(trouble)

    def _tell(self, live: Live) -> None:
        if not self.ended:
            self._told(live)

    def end(self) -> None:
        """Tell it to end; it does so within about two seconds."""
        self._cancel.set()

    async def over(self) -> None:
        """Wait until its port is free."""
        await self._over.wait()
