"""The web application: the page, the way in by key, and a line to a screen of one's own."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import textual_serve
from aiohttp import web
from aiohttp.typedefs import Handler

from tui.serve.guard import Guard
from tui.serve.screens import MOST_SCREENS, Screens

__all__ = ["make_web"]

_TERMINAL_FILES = Path(textual_serve.__file__).parent / "static"
_PAGE = files("tui.serve") / "page"
_MOST_BYTES = 1000
_COOKIE_S = 24 * 3600
"""A phone ends its browser as it pleases: the cookie outlives that. What it stands for ends with this program."""
_KINDS = {".css": "text/css", ".js": "text/javascript"}
_HEADERS = {
    "Server": "spinvolt",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}


def make_web(guard: Guard, screens: Screens, entered: Callable[[], None], *, port: int) -> web.Application:
    """Put the application together.

    Args:
        guard: decides who may see what.
        screens: shows the dashboard.
        entered: called when the key was used up.
        port: that is served; the cookie carries it, since browsers keep cookies by host alone.
    """
    site = _Site(guard, screens, entered, f"spinvolt-{port}")
    app = web.Application(middlewares=[site.check_host], client_max_size=_MOST_BYTES)
    app.add_routes(
        [
            web.get("/", site.index),
            web.post("/enter", site.enter),
            web.get("/live/{light:light|dark}", site.live),
            web.get("/page/{name:[a-z]+[.](?:css|js)}", site.page_file),
            web.static("/terminal", _TERMINAL_FILES),
        ]
    )
    app.on_response_prepare.append(site.add_headers)
    return app


class _Site:
    def __init__(self, guard: Guard, screens: Screens, entered: Callable[[], None], cookie: str) -> None:
        self._guard = guard
        self._screens = screens
        self._entered = entered
        self._cookie = cookie

    @web.middleware
    async def check_host(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        if not self._guard.serves(request.headers.get("Host", "")):
            return web.Response(status=421, text="This computer serves no page by that name.\n")
        return await handler(request)

    async def add_headers(self, request: web.Request, response: web.StreamResponse) -> None:
        response.headers.update(_HEADERS)
        line = f"ws://{request.headers.get('Host', '')}"
        response.headers["Content-Security-Policy"] = (
            "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; font-src 'self'; "
            f"img-src 'self' data:; connect-src 'self' {line}; base-uri 'none'; form-action 'none'; "
            "frame-ancestors 'none'"
        )

    async def index(self, request: web.Request) -> web.Response:
        """The dashboard's page for a browser that has the key's cookie, else the one that asks for the key."""
        name = "screen.html" if self._may_look(request) else "join.html"
        return web.Response(text=(_PAGE / name).read_text("utf-8"), content_type="text/html")

    async def page_file(self, request: web.Request) -> web.Response:
        source = _PAGE / request.match_info["name"]
        if not source.is_file():
            raise web.HTTPNotFound
        kind = _KINDS[Path(source.name).suffix]
        return web.Response(text=source.read_text("utf-8"), content_type=kind)

    async def enter(self, request: web.Request) -> web.Response:
        """Exchange the key for the cookie."""
        if not self._is_ours(request):
            return web.Response(status=403, text="This comes from another site.\n")
        token = self._guard.enter(await request.text())
        if token is None:
            return web.Response(
                status=403,
                text="This key does not fit. It works once: take the newest one from the program's terminal.\n",
            )
        answer = web.Response(status=204)
        answer.set_cookie(self._cookie, token, max_age=_COOKIE_S, httponly=True, samesite="Strict", path="/")
        return answer

    async def live(self, request: web.Request) -> web.StreamResponse:
        """A screen of one's own."""
        if not (self._is_ours(request) and self._may_look(request)):
            return web.Response(status=403, text="This screen is not for you.\n")
        if len(self._screens) >= MOST_SCREENS:
            return web.Response(status=503, text=f"{MOST_SCREENS} browsers look on already.\n")
        if not web.WebSocketResponse().can_prepare(request):
            return web.Response(status=400, text="A screen needs a web socket.\n")
        key = self._guard.key
        if not self._guard.admits(self._token(request)):
            return web.Response(status=403, text="Another browser has used the key.\n")
        if self._guard.key != key:
            self._entered()
        return await self._screens.show(request, request.match_info["light"])

    def _may_look(self, request: web.Request) -> bool:
        return self._guard.knows(self._token(request))

    def _token(self, request: web.Request) -> str | None:
        return request.cookies.get(self._cookie)

    def _is_ours(self, request: web.Request) -> bool:
        return self._guard.ours(request.headers.get("Origin"), request.headers.get("Host", ""))
