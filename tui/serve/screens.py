"""The screens that are open: one process for each page, started and ended with it."""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import os
import subprocess
from collections.abc import Awaitable, Callable, Sequence
from typing import TypeVar

from aiohttp import WSMsgType, web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

__all__ = ["MOST_SCREENS", "Screens", "clamped_size"]

MOST_SCREENS = 8
"""Each is a process; a field laptop has a capture to run besides."""
_DRIVER = "tui.serve.driver:TabDriver"
_END_WITHIN_S = 3.0
_LEAST = (20, 6)
_MOST = (400, 150)
_Payload = TypeVar("_Payload", bytes, str)
_TERMINAL_BACKGROUND = {"light": "0;15", "dark": "15;0"}


def clamped_size(width: object, height: object) -> tuple[int, int]:
    """Columns and rows as a browser says them, kept to what can be drawn."""
    columns, rows = (_whole(each, usual) for each, usual in ((width, 80), (height, 24)))
    return min(max(columns, _LEAST[0]), _MOST[0]), min(max(rows, _LEAST[1]), _MOST[1])


def _whole(value: object, usual: int) -> int:
    text = str(value)[:6]
    return int(text) if text.isascii() and text.isdigit() else usual


class _Screen(AppService):
    """One process of the dashboard, without a shell, in a session of its own."""

    arguments: Sequence[str] = ()
    light = "dark"

    def _build_environment(self, width: int = 80, height: int = 24) -> dict[str, str]:
        environment = super()._build_environment(width, height)
        # Ctrl-C in the terminal is for the program that serves; it ends its screens itself.
        return {**environment, "TEXTUAL_DRIVER": _DRIVER, "COLORFGBG": _TERMINAL_BACKGROUND[self.light]}

    async def _open_app_process(self, width: int = 80, height: int = 24) -> asyncio.subprocess.Process:
        self._process = process = await asyncio.create_subprocess_exec(
            *self.arguments,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=self._build_environment(width, height),
            start_new_session=os.name == "posix",
        )
        self._stdin = process.stdin
        return process

    async def on_meta(self, data: bytes) -> None:
        """Only its end counts: a dashboard opens no pages and hands out no files."""
        if b'"exit"' in data:
            await self.remote_close()

    async def end(self) -> None:
        """End the process: by asking, then harder."""
        if self._process is None:
            return
        with contextlib.suppress(TimeoutError, OSError):
            await asyncio.wait_for(self._ended(), _END_WITHIN_S)
        if self._process.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                self._process.kill()
        if self._process.stdin is not None:
            self._process.stdin.close()
        await self._process.wait()

    async def _ended(self) -> None:
        await self.stop()
        if self._process is not None:
            await self._process.wait()


class Screens:
    """Opens a screen for each page that asks.

    Args:
        command: starts a screen's process.
        say: told when a screen opens or closes.
    """

    def __init__(self, command: Sequence[str], say: Callable[[str], None]) -> None:
        self._command = command
        self._say = say
        self._open: dict[web.WebSocketResponse, _Screen] = {}
        logging.getLogger("textual-serve").addHandler(logging.NullHandler())
        logging.getLogger("textual-serve").propagate = False

    def __len__(self) -> int:
        return len(self._open)

    async def show(self, request: web.Request, light: str) -> web.WebSocketResponse:
        """Show the dashboard on a page until the page or the dashboard goes."""
        page = web.WebSocketResponse(heartbeat=15, max_msg_size=1 << 16)
        await page.prepare(request)
        screen = self._new_screen(page, light)
        self._open[page] = screen
        self._say(f"A browser looks on ({len(self._open)} open).")
        try:
            await screen.start(*clamped_size(request.query.get("width"), request.query.get("height")))
            await _hand_on(page, screen)
        except OSError as error:
            self._say(f"A screen could not be started: {error.strerror or error}.")
        finally:
            del self._open[page]
            await asyncio.shield(screen.end())
            self._say(f"A browser has gone ({len(self._open)} open).")
        return page

    async def close(self) -> None:
        """Close all pages; their screens end with them."""
        for page in list(self._open):
            with contextlib.suppress(TimeoutError, ConnectionError):
                await asyncio.wait_for(page.close(), 1.0)

    def _new_screen(self, page: web.WebSocketResponse, light: str) -> _Screen:
        async def close() -> None:
            await page.close()

        screen = _Screen(
            "",
            write_bytes=_unless_gone(page.send_bytes),
            write_str=_unless_gone(page.send_str),
            close=close,
            download_manager=DownloadManager(),
        )
        screen.arguments, screen.light = self._command, light
        return screen


async def _hand_on(page: web.WebSocketResponse, screen: _Screen) -> None:
    """Hand on what the page sends: keys, taps and its size. What is none of these is passed over."""
    async for message in page:
        if message.type is not WSMsgType.TEXT:
            continue
        match _decoded(message.data):
            case ["stdin", str(keys)]:
                await screen.send_bytes(keys.encode("utf-8", "replace"))
            case ["resize", {"width": width, "height": height}]:
                await screen.set_terminal_size(*clamped_size(width, height))
            case ["ping", str(word)]:
                await page.send_json(["pong", word])
            case ["blur"]:
                await screen.blur()
            case ["focus"]:
                await screen.focus()


def _decoded(text: str) -> object:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None


def _unless_gone(send: Callable[[_Payload], Awaitable[None]]) -> Callable[[_Payload], Awaitable[None]]:
    """Send to a page; what comes too late for it is dropped, so that the screen's pipe never fills."""

    async def sending(payload: _Payload) -> None:
        with contextlib.suppress(ConnectionError):
            await send(payload)

    return sending
