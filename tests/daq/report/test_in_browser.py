"""The page in a real browser: nothing asked of the network, no complaint, nothing cut off, good to print."""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest

from tests.daq.report.conftest import RECORDINGS, page_of
from tests.tui.browser import CHROMIUM, Browser, browser

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed (Debian: chromium)")

_READY = "document.readyState === 'complete' && document.querySelector('h1') !== null"
_PLACES = """
[...document.querySelectorAll('%s')].map(e => {
  const box = e.getBoundingClientRect();
  return [box.left, box.top, box.right, box.bottom];
})
"""
_PAPER = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}


async def _show(tab: Browser, html: str, folder: Path) -> str:
    file = folder / "page.html"
    file.write_text(html, "utf-8")
    await tab.call(
        "Network.emulateNetworkConditions", offline=True, latency=0, downloadThroughput=0, uploadThroughput=0
    )
    await tab.open(file.as_uri())
    await tab.wait_for(_READY)
    return file.as_uri()


async def test_it_fits_a_phone_and_a_desk_without_any_network(repair_page: str, tmp_path: Path) -> None:
    async with browser(tmp_path) as tab:
        where = await _show(tab, repair_page, tmp_path)
        for width in (1280, 390, 320):
            await tab.size(width, 900, mobile=width < 1000)
            assert await tab.evaluate("document.documentElement.scrollWidth") <= width
            for left, _, right, _ in await tab.evaluate(_PLACES % "table, figure, svg.plot, .badge, p, li"):
                assert left >= 0
                assert right <= width
        # The style was let through by the page's own policy, and is in force.
        assert (
            await tab.evaluate("getComputedStyle(document.querySelector('.answer')).borderLeftWidth") == "6px"
        )
        assert tab.errors == []
        assert [address for address in tab.requests if address != where] == []


async def test_words_in_plots_do_not_leave_them_and_can_be_read_on_a_phone(
    two_pages: str, tmp_path: Path
) -> None:
    async with browser(tmp_path) as tab:
        await _show(tab, two_pages, tmp_path)
        await tab.size(390, 900)
        words = await tab.evaluate(
            """[...document.querySelectorAll('svg.plot text')].map(e => {
              const plot = e.ownerSVGElement.getBoundingClientRect(), box = e.getBoundingClientRect();
              return [e.textContent, box.left - plot.left, plot.right - box.right, box.height];
            })"""
        )
        assert len(words) > 50
        for text, left, right, height in words:
            assert left > -1, text
            assert right > -1, text
            assert height > 8, text


async def test_it_prints_on_both_papers_and_plots_are_not_to_be_split(
    repair_page: str, tmp_path: Path
) -> None:
    """Where sheets break can't be asked of the browser; that plots, rows and headings hold together can."""
    async with browser(tmp_path) as tab:
        await _show(tab, repair_page, tmp_path)
        sheets = {}
        for name, (width, height) in _PAPER.items():
            answer = await tab.call("Page.printToPDF", paperWidth=width, paperHeight=height)
            sheets[name] = len(re.findall(rb"/Type /Page\b", base64.b64decode(answer["data"])))
        assert 5 <= sheets["A4"] <= sheets["Letter"] <= 14
        await tab.call("Emulation.setEmulatedMedia", media="print")
        for selector, rule in (
            ("figure", "breakInside"),
            ("tr", "breakInside"),
            ("h2, h3, h4", "breakAfter"),
        ):
            held = await tab.evaluate(
                f"[...document.querySelectorAll('{selector}')].map(e => getComputedStyle(e).{rule})"
            )
            assert set(held) == {"avoid"}, selector
        assert (
            await tab.evaluate("getComputedStyle(document.querySelector('thead')).display")
            == "table-header-group"
        )
        assert tab.errors == []


async def test_a_hostile_name_runs_nothing(tmp_path: Path) -> None:
    evil = tmp_path / "<img src=x onerror=document.title='owned'>.jsonl"
    evil.write_bytes((RECORDINGS / "gap-and-false-tach.jsonl").read_bytes())
    async with browser(tmp_path) as tab:
        where = await _show(tab, page_of(evil), tmp_path)
        assert "owned" not in await tab.evaluate("document.title")
        assert await tab.evaluate("document.querySelectorAll('img, script').length") == 0
        assert await tab.evaluate("document.body.innerText.includes('<img src=x')")
        assert [address for address in tab.requests if address != where] == []
