"""Textual's driver for a browser, ended by the end of its input."""

from __future__ import annotations

import asyncio

from textual.drivers.web_driver import WebDriver
from textual.messages import ExitApp

__all__ = ["TabDriver"]


class TabDriver(WebDriver):
    """A screen whose server has gone must go too, also where it was killed and could say nothing."""

    def start_application_mode(self) -> None:
        self._loop_of_app = asyncio.get_running_loop()
        super().start_application_mode()

    def run_input_thread(self) -> None:
        super().run_input_thread()
        if not self.exit_event.is_set():
            asyncio.run_coroutine_threadsafe(self._app._post_message(ExitApp()), self._loop_of_app)  # noqa: SLF001 - as the driver itself does
