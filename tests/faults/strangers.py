"""Files from strangers, handed to every command that reads them, and what must hold whatever is in them."""

from __future__ import annotations

import contextlib
import gc
import io
import os
import re
import time
import tracemalloc
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.tui.program import environment

__all__ = ["KINDS", "Kind", "faults_of", "seeds", "unfit_characters"]

CORPUS = Path(__file__).parent / "corpus"
MOST_SECONDS = 1.0
MOST_MEMORY_MB = 24.0
MOST_MEMORY_TIMES = 60
"""Memory of a reader, at most so many times its file, and 24 MB: numbers are 3 bytes there and 21 here."""
MARKS_OF_HARM = ("<script>alert", "<img src=x onerror", "=cmd|", "=HYPERLINK(")


_RUNS_SOMETHING = re.compile(r"""(?i)<[^>]*\s(?:on\w+\s*=|(?:href|src|action)\s*=\s*["']?\s*javascript:)""")
"""In a tag: something that runs when it is shown or touched."""


class Kind(NamedTuple):
    """A kind of file that people mail each other."""

    name: str
    file: str
    """What it is called."""
    commands: Sequence[Sequence[str]]
    outputs: frozenset[str] = frozenset()
    """The files that the commands may write."""


KINDS = {
    kind.name: kind
    for kind in (
        Kind(
            "recording",
            "odd.jsonl",
            (
                ("result", "odd.jsonl", "--json", "--budget"),
                ("result", "odd.jsonl"),
                ("replay", "odd.jsonl", "--headless", "--rate", "0"),
                ("compare", "odd.jsonl", "odd.jsonl"),
                ("export", "odd.jsonl", "--to", "odd.csv", "--force"),
            ),
            frozenset({"odd.csv", "odd.csv-metadata.json"}),
        ),
        Kind("report", "odd.jsonl", (("report", "odd.jsonl", "--to", "odd.html"),), frozenset({"odd.html"})),
        Kind("instrument", "odd.toml", (("cards", "./odd.toml"),)),
        Kind(
            "machine",
            "odd.toml",
            (("cards", "./odd.toml"), ("job", "start", "new.jsonl", "--machine", "./odd.toml")),
            frozenset({"new.jsonl"}),
        ),
        Kind(
            "csv",
            "odd.csv",
            (("import", "new.jsonl", "ac_voltage=odd.csv", "--force"), ("result", "new.jsonl")),
            frozenset({"new.jsonl"}),
        ),
        Kind(
            "job",
            "odd.jsonl",
            (
                ("job", "status", "odd.jsonl"),
                ("job", "report", "odd.jsonl"),
                ("job", "report", "odd.jsonl", "--json"),
                ("job", "next", "odd.jsonl"),
            ),
        ),
    )
}


def seeds(kind: str) -> list[bytes]:
    """The corpus of a kind: what is sound, and what once was found to do harm."""
    name = "recording" if kind == "report" else kind
    return [path.read_bytes() for path in sorted(CORPUS.glob(f"{name}-*"))]


def faults_of(kind: Kind, data: bytes, folder: Path, *, memory: bool = False) -> list[str]:
    """Hand a file to the commands and tell what they did that they must not; see the module's tests.

    Args:
        kind: what the file passes for.
        data: what is in it.
        folder: an empty one; it is left empty.
        memory: also hold the memory against its limit, which makes it slow.
    """
    from tui.__main__ import main

    (folder / kind.file).write_bytes(data)
    found: list[str] = []
    for command in kind.commands:
        with _held_to_limits(len(data), memory=memory) as broken:
            status, out, err = _run(main, command, folder)
        if broken and not memory:
            # A computer that is busy elsewhere slows the processor too: slow is what is slow again.
            with _held_to_limits(len(data), memory=memory) as broken:
                _run(main, command, folder)
        found += [f"{' '.join(command)}: {what}" for what in (*broken, *_told_badly(status, out, err))]
    found += _written_badly(kind, folder)
    for path in folder.iterdir():
        if path.is_file():
            path.unlink()
    return found


def _run(main: Callable[[Sequence[str]], int], command: Sequence[str], folder: Path) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    places = folder.parent / f"{folder.name}-places"
    with (
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        patch.chdir(folder)
        for name, value in environment(places).items():
            if os.environ.get(name) != value:
                patch.setenv(name, value)
        try:
            status = main(command)
        except SystemExit as ending:
            status = int(ending.code or 0)
    return status, out.getvalue(), err.getvalue()


@contextlib.contextmanager
def _held_to_limits(size: int, *, memory: bool) -> Iterator[list[str]]:
    """Time on the processor, which a busy computer does not stretch, and memory."""
    broken: list[str] = []
    if memory:
        gc.collect()
        tracemalloc.start()
    began_s = time.process_time()
    try:
        yield broken
        took_s = time.process_time() - began_s
        if memory:
            most_mb = (size * MOST_MEMORY_TIMES) / 1e6 + MOST_MEMORY_MB
            peak_mb = tracemalloc.get_traced_memory()[1] / 1e6
            if peak_mb > most_mb:
                broken.append(f"takes {peak_mb:.0f} MB for a file of {size} bytes")
        elif took_s > MOST_SECONDS:
            broken.append(f"takes {took_s:.1f} s for a file of {size} bytes")
    finally:
        if memory:
            tracemalloc.stop()


def _told_badly(status: int, out: str, err: str) -> Iterator[str]:
    if status not in (0, 1, 2):
        yield f"exit status {status}"
    if "fault of its own" in err or "Traceback" in out + err:
        yield f"a fault of its own: {err[:600]}"
    if status and len(err.splitlines()) != 1:
        yield f"status {status} with {len(err.splitlines())} lines on standard error"
    for stream in (out, err):
        odd = unfit_characters(stream)
        if odd:
            yield f"characters that no screen may get: {odd[:5]!r}"


def unfit_characters(text: str) -> list[str]:
    """Characters that could drive a terminal, hide others, or turn the reading order round."""
    return [c for c in text if c != "\n" and unicodedata.category(c) in {"Cc", "Cf", "Cs", "Zl", "Zp"}]


def _written_badly(kind: Kind, folder: Path) -> Iterator[str]:
    there = {str(path.relative_to(folder)) for path in folder.rglob("*")} - {kind.file}
    if there - kind.outputs:
        yield f"files that nobody asked for: {sorted(there - kind.outputs)}"
    csv, html = folder / "odd.csv", folder / "odd.html"
    if "odd.csv" in kind.outputs and csv.exists():
        for line in csv.read_text("utf-8").splitlines():
            for cell in line.split(","):
                if cell.startswith(("=", "+", "@", "\t")) or (cell.startswith("-") and not _is_number(cell)):
                    yield f"a formula in the CSV: {cell[:60]!r}"
    if html.exists():
        page = html.read_text("utf-8")
        for mark in MARKS_OF_HARM[:2]:
            if mark in page:
                yield f"{mark!r} in the page"
        if _RUNS_SOMETHING.search(page):
            yield "a link that runs something in the page"


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True
