"""Serves beside whatever the program does: an event loop in a thread of its own."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Coroutine, Sequence
from typing import Any, Self, TypeVar

from aiohttp import web

from tui.serve.address import ServeAddress
from tui.serve.guard import Guard
from tui.serve.link import link_text, reachable_host
from tui.serve.listener import listening_socket
from tui.serve.screens import Screens
from tui.serve.web import make_web

__all__ = ["Serving"]

_Result = TypeVar("_Result")
_LOOPBACK_NAMES = ("localhost", "127.0.0.1", "::1")


class Serving:
    """Serves the dashboard until it is closed; a context manager.

    Attributes:
        link: where it is, with the key where one is asked for; another one when it was used.
    """

    def __init__(self, address: ServeAddress, command: Sequence[str], say: Callable[[str], None]) -> None:
        """Begin to serve.

        Args:
            address: where.
            command: starts the process of a screen.
            say: told, in the serving thread, when a screen opens or closes, and the new link when one was used.

        Raises:
            SpinvoltError: the address is not of this computer, or the port is taken.
        """
        self._say = say
        self._screens = Screens(command, say)
        self._loop = asyncio.new_event_loop()
        self._runner: web.AppRunner | None = None
        self._thread = threading.Thread(target=self._serve, name="spinvolt-serve", daemon=True)
        self._thread.start()
        try:
            self._guard, self._host, self._port = self._in_loop(self._begin(address))
        except BaseException:
            self._end_loop()
            raise

    @property
    def link(self) -> str:
        """The link that works now."""
        return link_text(self._host, self._port, self._guard.key)

    @property
    def screens(self) -> int:
        """How many pages are open."""
        return len(self._screens)

    def close(self) -> None:
        """End the screens and the serving. May be called twice."""
        if self._loop.is_closed():
            return
        self._in_loop(self._finish())
        self._end_loop()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _in_loop(self, work: Coroutine[Any, Any, _Result]) -> _Result:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result()

    async def _begin(self, address: ServeAddress) -> tuple[Guard, str, int]:
        listener = listening_socket(address)
        port: int = listener.getsockname()[1]
        host = reachable_host(address)
        names = {host, *(_LOOPBACK_NAMES if address.is_loopback else ())}
        guard = Guard(port, names, any_ip=address.is_every, keyed=not address.is_loopback)
        site = make_web(guard, self._screens, self._link_was_used, port=port)
        self._runner = web.AppRunner(site, access_log=None, shutdown_timeout=2.0)
        await self._runner.setup()
        await web.SockSite(self._runner, listener).start()
        return guard, host, port

    def _link_was_used(self) -> None:
        self._say(f"The link was used; for another device: {self.link}")

    async def _finish(self) -> None:
        await self._screens.close()
        if self._runner is not None:
            await self._runner.cleanup()

    def _end_loop(self) -> None:
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()

    def _serve(self) -> None:
        """The thread's work: the loop, until it is told to stop, and what a loop leaves behind."""
        self._loop.run_forever()
        self._loop.run_until_complete(self._loop.shutdown_asyncgens())
        self._loop.run_until_complete(self._loop.shutdown_default_executor())
        self._loop.close()
