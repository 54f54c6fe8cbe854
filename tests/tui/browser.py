"""A real browser for tests: Chromium without a window, told what to do over its DevTools protocol."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from itertools import count
from pathlib import Path
from typing import Any

import aiohttp

__all__ = ["CHROMIUM", "Browser", "browser"]

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
_START_WITHIN_S = 40.0
_END_WITHIN_S = 30.0


class Browser:
    """One tab."""

    def __init__(self, line: aiohttp.ClientWebSocketResponse) -> None:
        self._line = line
        self._numbers = count(1)
        self.requests: list[str] = []
        """Addresses that pages asked for."""
        self.errors: list[str] = []
        """What pages complained of."""
        self.heard = bytearray()
        """What came over the pages' web sockets, as bytes."""

    async def call(self, method: str, **parameters: object) -> dict[str, Any]:
        """Call a method of the protocol and wait for its answer; events on the way are noted."""
        number = next(self._numbers)
        await self._line.send_json({"id": number, "method": method, "params": parameters})
        while True:
            message = await self._line.receive_json(timeout=40)
            self._note(message)
            if message.get("id") == number:
                assert "error" not in message, message
                result: dict[str, Any] = message["result"]
                return result

    def _note(self, message: dict[str, Any]) -> None:
        parameters = message.get("params", {})
        match message.get("method"):
            case "Network.requestWillBeSent":
                self.requests.append(parameters["request"]["url"])
            case "Network.webSocketCreated":
                self.requests.append(parameters["url"])
            case "Network.webSocketFrameReceived" if parameters["response"]["opcode"] == 2:
                self.heard += base64.b64decode(parameters["response"]["payloadData"])
            case "Log.entryAdded" if parameters["entry"]["level"] == "error":
                self.errors.append(parameters["entry"]["text"])
            case "Runtime.exceptionThrown":
                self.errors.append(str(parameters["exceptionDetails"]))

    async def open(self, address: str) -> None:
        await self.call("Page.navigate", url=address)

    async def evaluate(self, expression: str) -> Any:
        """The value of a JavaScript expression in the page."""
        answer = await self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        return answer["result"].get("value")

    async def wait_for(self, expression: str, within_s: float = 40.0) -> None:
        """Wait until an expression is true."""
        for _ in range(int(within_s / 0.1)):
            if await self.evaluate(expression):
                return
            await asyncio.sleep(0.1)
        raise AssertionError(f"never true: {expression}; errors: {self.errors}")

    async def size(self, width: int, height: int, *, scale: float = 1.0, mobile: bool = True) -> None:
        """Be a screen of that many CSS pixels, touched with a finger where it is mobile."""
        await self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=scale,
            mobile=mobile,
        )
        await self.call("Emulation.setTouchEmulationEnabled", enabled=mobile)

    async def light(self, light: bool) -> None:
        """Prefer light or dark colours."""
        feature = {"name": "prefers-color-scheme", "value": "light" if light else "dark"}
        await self.call("Emulation.setEmulatedMedia", features=[feature])

    async def tap(self, x: float, y: float) -> None:
        """Tap with a finger; the browser itself then makes the mouse events that stand for it."""
        await self.call("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        await self.call("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    async def picture(self, path: Path) -> None:
        answer = await self.call("Page.captureScreenshot")
        await asyncio.to_thread(path.write_bytes, base64.b64decode(answer["data"]))


@asynccontextmanager
async def browser(folder: Path) -> AsyncIterator[Browser]:
    """Start Chromium with the folder's profile, which outlives it; it is ended with the block."""
    assert CHROMIUM is not None
    told = folder / "chromium" / "DevToolsActivePort"
    told.unlink(missing_ok=True)
    process = await asyncio.create_subprocess_exec(
        CHROMIUM,
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--enable-unsafe-swiftshader",
        "--remote-debugging-port=0",
        f"--user-data-dir={folder / 'chromium'}",
        "about:blank",
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.DEVNULL,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        port = await _port(told)
        async with aiohttp.ClientSession() as session:
            async with session.get(f"http://127.0.0.1:{port}/json/list") as answer:
                tabs = await answer.json()
            where = next(tab["webSocketDebuggerUrl"] for tab in tabs if tab["type"] == "page")
            async with session.ws_connect(where, max_msg_size=0) as line:
                tab = Browser(line)
                for domain in ("Page", "Network", "Log", "Runtime"):
                    await tab.call(f"{domain}.enable")
                yield tab
                await tab.call("Browser.close")  # a signal would end it before its cookies are on the disk
                await asyncio.wait_for(process.wait(), _END_WITHIN_S)
    finally:
        if process.returncode is None:
            process.terminate()
            await process.wait()


async def _port(file: Path) -> int:
    for _ in range(int(_START_WITHIN_S / 0.1)):
        with contextlib.suppress(FileNotFoundError, ValueError, IndexError):  # not there, or not whole yet
            return int((await asyncio.to_thread(file.read_text)).splitlines()[0])
        await asyncio.sleep(0.1)
    raise AssertionError("Chromium did not start")
