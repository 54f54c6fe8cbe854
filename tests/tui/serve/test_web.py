"""The application as a browser meets it: real sockets, real processes behind the screens."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator, Iterator

import aiohttp
import pytest

from daq.errors import SpinvoltError
from tests.tui.test_terminal import alive
from tui.serve.address import ServeAddress
from tui.serve.screens import MOST_SCREENS, clamped_size
from tui.serve.serving import Serving

# Speaks the driver's packets (D and M, length, payload) without an application behind them: what it is
# given comes back; "gone" ends it as an application ends.
_ECHO = r"""
import json, os, sys
def send(kind, data): os.write(1, kind + len(data).to_bytes(4, "big") + data)
os.write(1, b"__GANGLION__\n")
send(b"D", ("started %s by %s" % (os.environ["COLUMNS"] + "x" + os.environ["ROWS"], os.environ["COLORFGBG"])).encode())
while head := sys.stdin.buffer.read(5):
    data = sys.stdin.buffer.read(int.from_bytes(head[1:], "big"))
    if data == b"gone" or b'"quit"' in data:
        send(b"M", json.dumps({"type": "exit"}).encode())
        break
    send(b"D", str(os.getpid()).encode() if data == b"who" else head[:1] + data)
"""
ECHO = [sys.executable, "-I", "-S", "-c", _ECHO]


class Said(list[str]):
    def __call__(self, sentence: str) -> None:
        self.append(sentence)


@pytest.fixture
def said() -> Said:
    return Said()


@pytest.fixture
def serving(said: Said) -> Iterator[Serving]:
    with Serving(ServeAddress("127.0.0.1", 0), ECHO, said) as served:
        yield served


@pytest.fixture
def keyed(said: Said) -> Iterator[Serving]:
    """Served on all addresses, as for a phone: a key is asked for."""
    with Serving(ServeAddress("0.0.0.0", 0), ECHO, said) as served:  # noqa: S104 - a test of just that
        yield served


@pytest.fixture
async def client() -> AsyncIterator[aiohttp.ClientSession]:
    async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session:
        yield session


def site(serving: Serving) -> str:
    """Where it is, called by this computer's own number."""
    return f"http://127.0.0.1:{serving.link.split('/')[2].rpartition(':')[2]}"


def key(serving: Serving) -> str:
    return serving.link.partition("#")[2]


async def test_the_page_is_there_and_asks_for_nothing_from_elsewhere(
    serving: Serving, client: aiohttp.ClientSession
) -> None:
    async with client.get(serving.link) as answer:
        page = await answer.text()
    assert answer.status == 200
    assert 'id="terminal"' in page
    assert "://" not in page
    for header, value in (
        ("X-Frame-Options", "DENY"),
        ("Referrer-Policy", "no-referrer"),
        ("Cache-Control", "no-store"),
        ("X-Content-Type-Options", "nosniff"),
    ):
        assert answer.headers[header] == value
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    "path",
    [
        "page/page.css", "page/screen.js", "page/join.js", "terminal/js/textual.js", "terminal/css/xterm.css",
        "terminal/fonts/RobotoMono-VariableFont_wght.ttf",
    ],
)  # fmt: skip
async def test_what_the_page_needs_is_served_here(
    path: str, serving: Serving, client: aiohttp.ClientSession
) -> None:
    async with client.get(serving.link + path) as answer:
        assert answer.status == 200
        assert len(await answer.read()) > 100


@pytest.mark.parametrize(
    "path",
    ["page/../server.py", "page/%2e%2e%2fweb.py", "terminal/../server.py", "terminal/%2e%2e/server.py", "page/x.js",
     "live/other", "download/x", "terminal/", "page/screen.html"],
)  # fmt: skip
async def test_nothing_else_is_served(path: str, serving: Serving, client: aiohttp.ClientSession) -> None:
    from yarl import URL

    async with client.get(URL(serving.link + path, encoded=True)) as answer:
        assert answer.status in {403, 404}
        assert "import" not in await answer.text()


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "rebound.example:8750"])
async def test_a_foreign_name_gets_nothing(
    host: str, serving: Serving, client: aiohttp.ClientSession
) -> None:
    async with client.get(serving.link, headers={"Host": host}) as answer:
        assert answer.status == 421
        assert "terminal" not in await answer.text()


async def line(
    client: aiohttp.ClientSession, at: str, *, origin: str | None = "", query: str = ""
) -> aiohttp.ClientWebSocketResponse:
    """A line to a screen of one's own, as the page opens it."""
    headers = {} if origin is None else {"Origin": origin or at}
    return await client.ws_connect(f"{at}/live/dark{query}", headers=headers)


@pytest.mark.parametrize("origin", [None, "http://evil.example", "null", "http://localhost"])
async def test_another_sites_page_gets_no_screen(
    origin: str | None, serving: Serving, said: Said, client: aiohttp.ClientSession
) -> None:
    with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
        await line(client, site(serving), origin=origin)
    assert refused.value.status == 403
    assert said == []


async def test_a_screen_is_a_process_that_hears_keys_and_sizes(
    serving: Serving, said: Said, client: aiohttp.ClientSession
) -> None:
    socket = await line(client, site(serving), query="?width=54&height=999999")
    assert await socket.receive_bytes() == b"started 54x150 by 15;0"
    await socket.send_json(["stdin", "q\u00b1"])
    assert await socket.receive_bytes() == "Dq\u00b1".encode()
    await socket.send_json(["resize", {"width": 100, "height": "-3"}])
    assert await socket.receive_bytes() == b'M{"type": "resize", "width": 100, "height": 24}'
    await socket.send_json(["ping", "7"])
    assert await socket.receive_json() == ["pong", "7"]
    await socket.send_json(["stdin", "gone"])
    assert (await socket.receive()).type is aiohttp.WSMsgType.CLOSE
    await socket.close()
    await until(lambda: len(said) == 2)
    assert serving.screens == 0
    assert said == ["A browser looks on (1 open).", "A browser has gone (0 open)."]


@pytest.mark.parametrize(
    "message",
    ["", "[", "[" * 50_000, "{}", "[]", "7", '["stdin"]', '["stdin", 7]', '["resize", {}]', '["resize", [1, 2]]',
     '["deliver_chunk_request", 1]', '["stdin", "\\ud800"]'],
)  # fmt: skip
async def test_a_senseless_message_is_passed_over(
    message: str, serving: Serving, client: aiohttp.ClientSession
) -> None:
    socket = await line(client, site(serving))
    await socket.receive_bytes()
    await socket.send_str(message)
    await socket.send_json(["stdin", "after"])
    heard = await socket.receive_bytes()
    if "ud800" in message:
        assert heard == b"D?"
        heard = await socket.receive_bytes()
    assert heard == b"Dafter"
    await socket.close()


async def test_a_closed_page_ends_its_process(serving: Serving, client: aiohttp.ClientSession) -> None:
    one = await line(client, site(serving))
    two = await line(client, site(serving))
    await one.receive_bytes()
    await two.receive_bytes()
    assert serving.screens == 2
    await one.send_json(["stdin", "who"])
    process = int(await one.receive_bytes())
    assert alive(process)
    await one.close()
    await until(lambda: serving.screens == 1)
    await until(lambda: not alive(process))
    await two.send_json(["stdin", "still here"])
    assert await two.receive_bytes() == b"Dstill here"
    await two.close()


async def test_so_many_screens_and_no_more(serving: Serving, client: aiohttp.ClientSession) -> None:
    lines = [await line(client, site(serving)) for _ in range(MOST_SCREENS)]
    with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
        await line(client, site(serving))
    assert refused.value.status == 503
    for each in lines:
        await each.close()


async def test_the_end_of_the_program_closes_the_pages(said: Said, client: aiohttp.ClientSession) -> None:
    with Serving(ServeAddress("127.0.0.1", 0), ECHO, said) as serving:
        socket = await line(client, site(serving))
        await socket.receive_bytes()
        await asyncio.to_thread(serving.close)
        assert (await socket.receive()).type is aiohttp.WSMsgType.CLOSE
        await socket.close()
    assert said[-1] == "A browser has gone (0 open)."


async def test_a_command_that_can_not_start_closes_the_page(
    said: Said, client: aiohttp.ClientSession
) -> None:
    with Serving(ServeAddress("127.0.0.1", 0), ["/nowhere/at/all"], said) as serving:
        socket = await line(client, site(serving))
        assert (await socket.receive()).type is aiohttp.WSMsgType.CLOSE
        await socket.close()
        await until(lambda: serving.screens == 0)


def test_an_address_that_can_not_be_served_is_told(said: Said) -> None:
    with pytest.raises(SpinvoltError, match="no address of this computer"):
        Serving(ServeAddress("192.0.2.7", 0), ECHO, said)


async def test_without_the_key_there_is_a_door_and_nothing_behind_it(
    keyed: Serving, client: aiohttp.ClientSession
) -> None:
    async with client.get(site(keyed)) as answer:
        page = await answer.text()
    assert 'id="key"' in page
    assert 'id="terminal"' not in page
    with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
        await line(client, site(keyed))
    assert refused.value.status == 403


async def test_a_key_that_opened_no_screen_is_still_good(keyed: Serving, said: Said) -> None:
    """What looks at links asks with the key and goes away: the person behind the link is still let in."""
    first, at = key(keyed), site(keyed)
    jars = [aiohttp.CookieJar(unsafe=True) for _ in range(2)]
    async with (
        aiohttp.ClientSession(cookie_jar=jars[0]) as looker,
        aiohttp.ClientSession(cookie_jar=jars[1]) as phone,
    ):
        for browser in (looker, phone):
            async with browser.post(f"{at}/enter", data=first, headers={"Origin": at}) as answer:
                assert answer.status == 204
            async with browser.get(f"{at}/live/light", headers={"Origin": at}) as answer:
                assert answer.status == 400, "no web socket is asked for"
        assert (key(keyed), said) == (first, [])
        socket = await line(phone, at)
        assert key(keyed) != first
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await line(looker, at)
        assert refused.value.status == 403
        async with looker.get(at) as answer:
            assert 'id="key"' in await answer.text()
        await socket.close()


async def test_the_key_opens_for_one_browser_and_is_used_up(
    keyed: Serving, said: Said, client: aiohttp.ClientSession
) -> None:
    first, at = key(keyed), site(keyed)
    async with client.post(f"{at}/enter", data=first, headers={"Origin": at}) as answer:
        assert answer.status == 204
        cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "Max-Age=86400" in cookie, "a phone ends its browser as it pleases, and comes back"
    assert "SameSite=Strict" in cookie
    assert first not in cookie
    async with client.get(at) as answer:
        assert 'id="terminal"' in await answer.text()
    socket = await line(client, at)
    assert (await socket.receive_bytes()).startswith(b"started")
    await socket.close()
    assert said[0] == f"The link was used; for another device: {keyed.link}"
    assert key(keyed) != first
    async with (
        aiohttp.ClientSession() as another,
        another.post(f"{at}/enter", data=first, headers={"Origin": at}) as answer,
    ):
        assert answer.status == 403
        assert "Set-Cookie" not in answer.headers
        assert "newest one" in await answer.text()


async def test_the_key_is_taken_from_our_own_page_only(keyed: Serving, client: aiohttp.ClientSession) -> None:
    at = site(keyed)
    for headers in ({}, {"Origin": "http://evil.example"}):
        async with client.post(f"{at}/enter", data=key(keyed), headers=headers) as answer:
            assert answer.status == 403
    async with client.post(f"{at}/enter", data=key(keyed), headers={"Origin": at}) as answer:
        assert answer.status == 204


async def test_a_huge_key_is_not_even_read(keyed: Serving, client: aiohttp.ClientSession) -> None:
    at = site(keyed)
    async with client.post(f"{at}/enter", data=b"x" * 5000, headers={"Origin": at}) as answer:
        assert answer.status == 413


async def test_the_key_does_not_work_in_the_address(keyed: Serving, client: aiohttp.ClientSession) -> None:
    async with client.get(f"{site(keyed)}/?key={key(keyed)}") as answer:
        assert 'id="terminal"' not in await answer.text()


@pytest.mark.parametrize(
    ("width", "height", "size"),
    [
        (80, 24, (80, 24)),
        ("54", "60", (54, 60)),
        (None, "", (80, 24)),
        (1, 0, (20, 6)),
        (10**9, "9" * 5000, (400, 150)),
        (-5, 2.5, (80, 24)),
        (True, [], (80, 24)),
    ],
)
def test_a_screens_size_is_kept_to_what_can_be_drawn(
    width: object, height: object, size: tuple[int, int]
) -> None:
    assert clamped_size(width, height) == size


async def until(true: object, within_s: float = 30.0) -> None:
    """Wait until a condition holds, looking twenty times a second."""
    assert callable(true)
    for _ in range(int(within_s / 0.05)):
        if true():
            return
        await asyncio.sleep(0.05)
    raise AssertionError("it never came true")
