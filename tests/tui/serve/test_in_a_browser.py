"""``--serve`` as its user meets it: the program as a process, its page in Chromium or over a web socket."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import aiohttp
import pytest

from tests.tui.browser import CHROMIUM, Browser, browser
from tests.tui.program import start
from tests.tui.test_terminal import alive, descendants

needs_chromium = pytest.mark.skipif(
    CHROMIUM is None, reason="this test needs a browser: apt-get install chromium"
)

PHONE, TABLET = (390, 844), (1180, 820)
READABLE_PX = 12


@contextmanager
def served(*arguments: str, folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A program that serves, and its link."""
    process = start(*arguments, folder=folder)
    try:
        assert process.stdout is not None
        first = process.stdout.readline()
        assert first.startswith("The dashboard is at http://"), first + (process.communicate(timeout=30)[1])
        yield process, first.split()[-1]
    finally:
        process.kill()
        process.communicate()


async def heard(page: Browser, words: str, within_s: float = 40.0) -> None:
    """Wait until these words were drawn on the page's terminal."""
    for _ in range(int(within_s / 0.1)):
        await page.evaluate("0")  # takes what has come
        if words.encode() in page.heard:
            return
        await asyncio.sleep(0.1)
    raise AssertionError(f"{words!r} never came, but {bytes(page.heard[-2000:])!r}")


@needs_chromium
async def test_a_phone_looks_on_leaves_by_a_tap_and_the_run_goes_on(tmp_path: Path) -> None:
    command = ("demo", "--script", "hold", "--serve", "--out", "run.jsonl")
    with served(*command, folder=tmp_path) as (process, link):
        async with browser(tmp_path) as page:
            await page.size(*PHONE)
            await page.open(link)
            await page.wait_for("document.body.classList.contains('-first-byte')")
            await heard(page, "looking on")
            size = await page.evaluate("Number(document.getElementById('terminal').dataset.fontSize)")
            assert size >= READABLE_PX
            assert await page.evaluate("document.fonts.check('14px \"Roboto Mono\"')")
            assert await page.evaluate("document.querySelector('.xterm-helper-textarea').inputMode") == "none"
            box = "document.querySelector('.xterm-screen').getBoundingClientRect()"
            assert await page.evaluate(f"{box}.right") <= PHONE[0]
            bottom = await page.evaluate(f"{box}.bottom")
            assert PHONE[1] - 2 * size < bottom <= PHONE[1]
            await page.tap(12, bottom - size / 2)  # "q leave" on the bottom row
            await page.wait_for("document.body.classList.contains('-closed')")
            assert await page.evaluate("getComputedStyle(document.getElementById('ended')).display") == "flex"
            assert process.poll() is None
            await page.evaluate("document.getElementById('again').click()")
            page.heard.clear()
            await heard(page, "rated output")
            elsewhere = [each for each in page.requests if "//" + link.split("/")[2] not in each]
            assert [each for each in elsewhere if not each.startswith(("about:", "data:"))] == []
            assert page.errors == []
        process.send_signal(signal.SIGINT)
        out, err = await asyncio.to_thread(process.communicate, timeout=40)
    assert process.returncode == 0, err
    assert "A browser looks on (1 open)." in out
    assert "Recording: run.jsonl" in out
    recorded = (tmp_path / "run.jsonl").read_text().splitlines()
    assert '"close"' in recorded[-1]


@needs_chromium
async def test_the_key_in_the_link_is_for_one_browser_and_for_that_one_again_and_again(
    tmp_path: Path, recording: Path
) -> None:
    command = ("replay", str(recording), "--rate", "0", "--serve", "0.0.0.0")  # noqa: S104 - the test of just that
    with served(*command, folder=tmp_path) as (_, link):
        at, _, key = link.partition("#")
        at = f"http://127.0.0.1:{at.rstrip('/').rpartition(':')[2]}/"
        own_page = {"Origin": at.rstrip("/")}
        async with aiohttp.ClientSession() as looker:
            seen = await looker.post(f"{at}enter", data=key, headers=own_page)
            assert seen.status == 204, "a program that looks at links has been here before"
        async with browser(tmp_path) as page:
            await page.size(*TABLET)
            await page.light(light=True)
            await page.open(f"{at}#{key}")
            await page.wait_for("document.body.classList.contains('-first-byte')")
            await heard(page, "closed")
            assert await page.evaluate("location.href") == at
            assert not [each for each in page.requests if key in each]
            assert await page.evaluate("document.body.classList.contains('light')")
            # The same link again, from a page of another site: used up, but this browser was let in.
            page.heard.clear()
            await page.open(f"data:text/html,<a id=link href='{at}%23{key}'>the run</a>")
            await page.wait_for("document.getElementById('link') !== null")
            await page.evaluate("document.getElementById('link').click()")
            await heard(page, "closed")
            page.heard.clear()
            await page.call("Page.reload")
            await heard(page, "closed")
            assert page.errors == []
        async with browser(tmp_path) as page:  # the same browser, which was ended and begun anew
            await page.open(at)
            await heard(page, "closed")
            assert page.errors == []
        (tmp_path / "second").mkdir()
        async with browser(tmp_path / "second") as page:
            await page.open(f"{at}#{key}")
            await page.wait_for("document.getElementById('said').textContent !== ''")
            assert "It works once" in await page.evaluate("document.getElementById('said').textContent")
            assert await page.evaluate("document.getElementById('terminal') === null")


async def test_no_screen_outlives_a_program_that_was_killed(tmp_path: Path, recording: Path) -> None:
    with served("watch", str(recording), "--serve", folder=tmp_path) as (process, link):
        at = link.rstrip("/")
        async with (
            aiohttp.ClientSession() as client,
            client.ws_connect(f"{at}/live/light", headers={"Origin": at}) as line,
        ):
            seen = b""
            while b"leave" not in seen:
                seen += (await line.receive(timeout=40)).data
            family = descendants(str(process.pid))
            assert len(family) == 2, "the program and one screen"
            process.kill()
            end_s = time.monotonic() + 30
            while left := [pid for pid in family if alive(pid)]:
                assert time.monotonic() < end_s, left
                await asyncio.sleep(0.05)


async def test_two_pages_are_two_screens_of_one_run(tmp_path: Path) -> None:
    command = ("demo", "--script", "hold", "--serve", "--seconds", "3", "--out", "run.jsonl")
    with served(*command, folder=tmp_path) as (process, link):
        at = link.rstrip("/")

        async def look(client: aiohttp.ClientSession) -> bytes:
            seen = b""
            async with client.ws_connect(f"{at}/live/dark", headers={"Origin": at}) as line:
                while b"The run is closed" not in seen:
                    seen += (await line.receive(timeout=40)).data
            return seen

        async with aiohttp.ClientSession() as client:
            one, two = await asyncio.gather(look(client), look(client))
        assert b"bench-meter" in one
        assert b"bench-meter" in two
        # Who looks on starts nothing and opens nothing else: there is no way to other screens.
        assert b"recordings" not in one
        assert b"connect" not in one
        assert process.stdout is not None
        said = ""
        while "the browsers go on showing it" not in said:  # it may see the end later than they do
            line = await asyncio.to_thread(process.stdout.readline)
            assert line, said
            said += line
        assert process.poll() is None, "what is closed stays on the screens until it is ended by hand"
        process.send_signal(signal.SIGTERM)
        out, err = await asyncio.to_thread(process.communicate, timeout=40)
    assert process.returncode == 0, err
    out = said + out
    assert out.count("looks on") == 2
    assert sum(name.endswith(".jsonl") for name in os.listdir(tmp_path)) == 1


def test_what_can_not_be_served_is_told(tmp_path: Path, recording: Path) -> None:
    for arguments, status, words in (
        (("watch", str(recording), "--serve", "192.0.2.7"), 1, "192.0.2.7 is no address of this computer"),
        (("watch", str(recording), "--serve", "a b"), 2, "is no ADDRESS[:PORT] to serve at"),
        (("watch", "nothing.jsonl", "--serve"), 1, "nothing.jsonl"),
    ):
        process = start(*arguments, folder=tmp_path)
        _, err = process.communicate(timeout=40)
        assert process.returncode == status, err
        assert words in err
        assert err.count("\n") == 1
