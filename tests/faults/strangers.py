"""Files from strangers, handed to every command that reads them, and what must hold whatever is in them."""

from __future__ import annotations

import contextlib
import csv
import io
import os
import re
import threading
import time
import unicodedata
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.tui.program import environment

__all__ = [
    "CORPUS",
    "FORMULA_STARTS",
    "KINDS",
    "Kind",
    "faults_of",
    "faults_with_a_pipe",
    "formulas_in",
    "run_command",
    "seeds",
    "unfit_characters",
]

CORPUS = Path(__file__).parent / "corpus"
MOST_SECONDS = 1.0
PIPE_SECONDS = 5.0
"""Nobody may wait for so long for somebody to write into a named pipe."""
MARKS_OF_HARM = ("<script>alert", "<img src=x onerror")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A cell that starts so may be run by a spreadsheet: OWASP, "CSV Injection"."""

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
    there: frozenset[str] = frozenset()
    """Outputs that are there already."""
    seeds: tuple[str, ...] = ()
    """Of which kinds the corpus is taken; of its own where nothing is named."""
    in_cards_folder: bool = False
    """Whether it lies among the user's own cards, where every command meets it."""

    def path(self, folder: Path) -> Path:
        """Where it lies when the commands run in that folder."""
        if self.in_cards_folder:
            return Path(environment(_places(folder))["SPINVOLT_CONFIG"]) / "cards" / self.file
        return folder / self.file


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
        Kind(
            "report",
            "odd.jsonl",
            (("report", "odd.jsonl", "--to", "odd.html"),),
            frozenset({"odd.html"}),
            seeds=("recording",),
        ),
        Kind("listed", "odd.jsonl", (("recordings", ".", "--headless"),), seeds=("recording",)),
        Kind("instrument", "odd.toml", (("cards", "./odd.toml"),)),
        Kind(
            "machine",
            "odd.toml",
            (("cards", "./odd.toml"), ("job", "start", "new.jsonl", "--machine", "./odd.toml")),
            frozenset({"new.jsonl"}),
        ),
        Kind(
            "cards folder",
            "odd.toml",
            (
                ("cards",),
                ("cards", "text-volts"),
                ("job", "start", "new.jsonl", "--machine", "class-split"),
            ),
            frozenset({"new.jsonl"}),
            seeds=("instrument", "machine"),
            in_cards_folder=True,
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
        Kind(
            "job page",
            "odd.jsonl",
            (("job", "report", "odd.jsonl", "--to", "odd.html", "--force"),),
            frozenset({"odd.html"}),
            there=frozenset({"odd.html"}),
            seeds=("job",),
        ),
    )
}


def seeds(kind: str) -> list[bytes]:
    """The corpus of a kind: what is sound, and what once was found to do harm."""
    names = KINDS[kind].seeds or (kind,)
    return [path.read_bytes() for name in names for path in sorted(CORPUS.glob(f"{name}-*"))]


def faults_of(kind: Kind, data: bytes, folder: Path) -> list[str]:
    """Hand a file to the commands and tell what they did that they must not; see the module's tests.

    Args:
        kind: what the file passes for.
        data: what is in it.
        folder: an empty one; it is left empty.
    """
    kind.path(folder).parent.mkdir(parents=True, exist_ok=True)
    kind.path(folder).write_bytes(data)
    found: list[str] = []
    for command in kind.commands:
        _put_outputs(kind, folder)
        with _held_to_time(len(data)) as broken:
            status, out, err = run_command(command, folder)
        if broken:
            # A computer that is busy elsewhere slows the processor too: slow is what is slow again.
            _put_outputs(kind, folder)
            with _held_to_time(len(data)) as broken:
                run_command(command, folder)
        found += [f"{' '.join(command)}: {what}" for what in (*broken, *_told_badly(status, out, err))]
    found += _written_badly(kind, folder)
    _empty(kind, folder)
    return found


def faults_with_a_pipe(kind: Kind, folder: Path) -> list[str]:
    """Put a named pipe that nobody writes into in the file's place, and tell which command waits for it."""
    pipe = kind.path(folder)
    pipe.parent.mkdir(parents=True, exist_ok=True)
    os.mkfifo(pipe)
    found: list[str] = []
    said = ""
    for command in kind.commands:
        waited = threading.Event()
        _put_outputs(kind, folder)
        timer = threading.Timer(PIPE_SECONDS, _end_the_wait, (pipe, waited))
        timer.start()
        try:
            status, out, err = run_command(command, folder)
        finally:
            timer.cancel()
            timer.join()
        broken = ["waits for a pipe"] if waited.is_set() else []
        found += [f"{' '.join(command)}: {what}" for what in (*broken, *_told_badly(status, out, err))]
        said += out + err
    if kind.name != "listed" and "no ordinary file" not in said:
        found.append(f"nobody says that it is no ordinary file: {said[:300]}")
    _empty(kind, folder)
    return found


def _end_the_wait(pipe: Path, waited: threading.Event) -> None:
    """Let a reader that waits go on, with nothing to read; where there is none, opening fails at once."""
    with contextlib.suppress(OSError):
        os.close(os.open(pipe, os.O_WRONLY | os.O_NONBLOCK))
        waited.set()


def _put_outputs(kind: Kind, folder: Path) -> None:
    for name in kind.outputs:
        (folder / name).unlink(missing_ok=True)
    for name in kind.there:
        (folder / name).write_text("an older one", "utf-8")


def _empty(kind: Kind, folder: Path) -> None:
    kind.path(folder).unlink()
    for path in folder.iterdir():
        if not path.is_dir():
            path.unlink()


def _places(folder: Path) -> Path:
    return folder.parent / f"{folder.name}-places"


def run_command(command: Sequence[str], folder: Path) -> tuple[int, str, str]:
    """Run a command in a folder; gives its exit status and what it said. A warning is a fault of its own."""
    from tui.__main__ import main

    out, err = io.StringIO(), io.StringIO()
    places = _places(folder)
    with (
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("error", RuntimeWarning)
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
def _held_to_time(size: int) -> Iterator[list[str]]:
    """Time on the processor, which a busy computer does not stretch."""
    broken: list[str] = []
    began_s = time.process_time()
    yield broken
    took_s = time.process_time() - began_s
    if took_s > MOST_SECONDS:
        broken.append(f"takes {took_s:.1f} s for a file of {size} bytes")


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
    csv_file, html = folder / "odd.csv", folder / "odd.html"
    if "odd.csv" in kind.outputs and csv_file.exists():
        yield from (f"a formula in the CSV: {cell[:60]!r}" for cell in formulas_in(csv_file))
    if html.exists():
        page = html.read_text("utf-8")
        for mark in MARKS_OF_HARM:
            if mark in page:
                yield f"{mark!r} in the page"
        if _RUNS_SOMETHING.search(page):
            yield "a link that runs something in the page"


def formulas_in(path: Path) -> list[str]:
    """The cells of a CSV file, as a spreadsheet reads them, that it could run."""
    with path.open(encoding="utf-8", newline="") as file:
        found = [cell for row in csv.reader(file) for cell in row if cell.startswith(FORMULA_STARTS)]
    return [cell for cell in found if not _is_number(cell)]


def _is_number(cell: str) -> bool:
    """As a cell holds it; what Python takes besides, such as "+1_0" or blanks around it, is none."""
    return re.fullmatch(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?", cell, re.ASCII) is not None
