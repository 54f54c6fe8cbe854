"""The page's form: well-formed, self-contained, safe, readable without eyes, the same bytes each time."""

from __future__ import annotations

import base64
import hashlib
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from daq.report import report_page
from tests.daq.report.conftest import NOON, RECORDINGS, noon, page_of
from tests.daq.report.reading import Page, read


@pytest.fixture(scope="session")
def pages(repair_page: str, two_pages: str) -> dict[str, str]:
    return {"job": repair_page, "two": two_pages, "one": page_of(RECORDINGS / "gap-and-false-tach.jsonl")}


@pytest.fixture(params=["job", "two", "one"])
def html(request: pytest.FixtureRequest, pages: dict[str, str]) -> str:
    return pages[request.param]


@pytest.fixture
def page(html: str) -> Page:
    return read(html)


def test_it_is_well_formed_and_says_what_it_is(page: Page) -> None:
    assert page.doctype == "DOCTYPE html"
    assert page.all("html")[0].attributes["lang"] == "en"
    assert len(page.all("h1")) == 1
    assert len(page.all("title")[0].words) > 10
    assert any(meta.attributes.get("charset") == "utf-8" for meta in page.all("meta"))


def test_ids_are_said_once_and_lead_somewhere(page: Page) -> None:
    ids = [e.attributes["id"] for e in page.every() if "id" in e.attributes]
    assert len(ids) == len(set(ids)) > 10
    for element in page.every():
        for key in ("aria-labelledby", "aria-describedby"):
            assert set(element.attributes.get(key, "").split()) <= set(ids)
        if "href" in element.attributes:
            assert element.attributes["href"].removeprefix("#") in ids
        for value in element.attributes.values():
            for name in re.findall(r"url\(#([^)]*)\)", value):
                assert name in ids


def test_nothing_is_loaded_from_anywhere(page: Page, html: str) -> None:
    for element in page.every():
        assert element.tag not in {"script", "link", "iframe", "object", "embed", "img", "form", "base"}
        for key, value in element.attributes.items():
            assert key != "src"
            assert not key.startswith("on")
            assert not re.search(r"(?i)\b(https?|data|javascript|file):", value), (element.tag, key, value)
            if key.endswith("href"):
                assert value.startswith("#")
    style = page.all("style")[0].text
    assert "url(" not in style
    assert "@import" not in style
    assert not re.search(r"https?:", html)


def test_the_policy_forbids_all_but_its_own_style(page: Page) -> None:
    policy = next(
        meta.attributes["content"]
        for meta in page.all("meta")
        if meta.attributes.get("http-equiv") == "Content-Security-Policy"
    )
    style = page.all("style")
    assert len(style) == 1
    digest = base64.b64encode(hashlib.sha256(style[0].text.encode()).digest()).decode()
    assert "default-src 'none'" in policy
    assert f"style-src 'sha256-{digest}'" in policy
    assert "unsafe" not in policy
    assert not [e for e in page.every() if "style" in e.attributes]


def test_every_drawing_has_a_name_and_a_description(page: Page) -> None:
    drawings = page.all("svg")
    assert len(drawings) == len(page.all("figure")) >= 2
    for drawing in drawings:
        title, description = drawing.children[:2]
        assert (title.tag, description.tag) == ("title", "desc")
        assert len(title.words) > 8
        assert len(description.words) > 25
        assert drawing.attributes["role"] == "img"
        named = drawing.attributes["aria-labelledby"].split()
        assert named == [title.attributes["id"], description.attributes["id"]]
        assert drawing.all("text"), "words in a plot stay words"


def test_every_table_has_heads_and_as_many_cells(page: Page) -> None:
    tables = page.all("table")
    assert len(tables) >= 3
    for table in tables:
        heads = table.all("thead")[0].all("th")
        assert heads
        assert all(head.attributes["scope"] == "col" for head in heads)
        rows = table.all("tbody")[0].all("tr")
        for row in rows:
            assert len(row.children) == len(heads)
            assert row.children[0].attributes["scope"] == "row"


def test_verdicts_are_told_by_word_and_sign(page: Page) -> None:
    badges = page.with_class("badge")
    assert len(badges) >= 2
    for badge in badges:
        assert badge.text.strip(), "without its word a badge says nothing"
        assert badge.children[0].words in {"✓", "✗", "≈", "–"}


def test_headings_do_not_skip_a_level(page: Page) -> None:
    levels = [int(e.tag[1]) for e in page.every() if re.fullmatch(r"h[1-6]", e.tag)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in zip(levels, levels[1:], strict=False))


def test_the_same_bytes_from_another_process_with_other_settings(two_pages: str, tmp_path: Path) -> None:
    """Also with another order of sets, other time zone, and plots set up otherwise by the user."""
    (tmp_path / "matplotlibrc").write_text("font.size: 30\nlines.linewidth: 9\nxtick.major.size: 20\n")
    program = (
        "import sys; from datetime import datetime; from pathlib import Path\n"
        "from daq.report import report_page; from daq.model.clock import ManualClock\n"
        f"clock = ManualClock(utc=datetime.fromisoformat({NOON.isoformat()!r}))\n"
        "page = report_page([Path(each) for each in sys.argv[1:]], clock)\n"
        "sys.stdout.buffer.write(page.encode())"
    )
    files = [str(RECORDINGS / f"{name}.jsonl") for name in ("weak-magnets-hunting", "healthy-sweep")]
    other = {**os.environ, "PYTHONHASHSEED": "4711", "TZ": "Asia/Tokyo", "MATPLOTLIBRC": str(tmp_path)}
    ran = subprocess.run(
        [sys.executable, "-c", program, *files],
        capture_output=True,
        cwd=tmp_path,
        env=other,
        timeout=60,
        check=True,
    )
    assert ran.stdout.decode() == two_pages
    assert ran.stderr == b""


def test_only_the_moment_changes_with_the_clock(two_pages: str) -> None:
    later = noon()
    later.advance(60.0)
    files = [RECORDINGS / "weak-magnets-hunting.jsonl", RECORDINGS / "healthy-sweep.jsonl"]
    page = report_page(files, later)
    assert page != two_pages
    assert page.replace("12:01 UTC", "12:00 UTC") == two_pages


def test_a_page_is_small_enough_to_send(html: str) -> None:
    assert len(html.encode()) < 700_000
