"""Files from strangers, handed to every command that reads them, and what must hold whatever is in them."""

from __future__ import annotations

import contextlib
import csv
import os
import re
import threading
import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from tests.faults.ground import Answer, Ground, held_to_time, places_of, run_command
from tests.tui.program import environment

__all__ = [
    "CORPUS",
    "FORMULA_STARTS",
    "KINDS",
    "Kind",
    "Tried",
    "faults_of",
    "faults_with_a_pipe",
    "formulas_in",
    "outputs_of",
    "scripts_in",
    "seeds",
    "tried",
    "unfit_characters",
]

CORPUS = Path(__file__).parent / "corpus"
_TIMES_SLOW = 3
PIPE_SECONDS = 5.0
"""Nobody may wait for so long for somebody to write into a named pipe."""
MARKS_OF_HARM = ("<script>alert", "<img src=x onerror")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A cell that starts so may be run by a spreadsheet: OWASP, "CSV Injection"."""

_RUNS_SOMETHING = re.compile(r"""(?i)<[^>]*\s(?:on\w+\s*=|(?:href|src|action)\s*=\s*["']?\s*javascript:)""")
"""In a tag: something that runs when it is shown or touched."""
_TAG = re.compile(r"<[A-Za-z][^>]*>")
_OLDER = "an older one"
_AT_A_PIPE = {
    ("recordings", ".", "--headless"): (0, "No recordings are in "),
    ("cards",): (0, "is no ordinary file"),
    ("cards", "text-volts"): (0, 'quantity = "ac_voltage"'),
    ("job", "start", "new.jsonl", "--machine", "class-split"): (0, "spinvolt job next new.jsonl"),
    ("result", "new.jsonl"): (1, "There is no recording new.jsonl"),
}
"""What a command answers that does not need the file; all others say what it is, and end with status 1."""


class Kind(NamedTuple):
    """A kind of file that people mail each other."""

    name: str
    file: str
    """What it is called."""
    commands: Sequence[Sequence[str]]
    there: bool = False
    """Whether their outputs are there already."""
    seeds: tuple[str, ...] = ()
    """Of which kinds the corpus is taken; of its own where nothing is named."""
    in_cards_folder: bool = False
    """Whether it lies among the user's own cards, where every command meets it."""

    def path(self, folder: Path) -> Path:
        """Where it lies when the commands run in that folder."""
        if self.in_cards_folder:
            return Path(environment(places_of(folder))["SPINVOLT_CONFIG"]) / "cards" / self.file
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
        ),
        Kind(
            "report",
            "odd.jsonl",
            (("report", "odd.jsonl", "--to", "odd.html"),),
            seeds=("recording",),
        ),
        Kind("listed", "odd.jsonl", (("recordings", ".", "--headless"),), seeds=("recording",)),
        Kind("instrument", "odd.toml", (("cards", "./odd.toml"),)),
        Kind(
            "machine",
            "odd.toml",
            (("cards", "./odd.toml"), ("job", "start", "new.jsonl", "--machine", "./odd.toml")),
        ),
        Kind(
            "cards folder",
            "odd.toml",
            (
                ("cards",),
                ("cards", "text-volts"),
                ("job", "start", "new.jsonl", "--machine", "class-split"),
            ),
            seeds=("instrument", "machine"),
            in_cards_folder=True,
        ),
        Kind(
            "csv",
            "odd.csv",
            (("import", "new.jsonl", "ac_voltage=odd.csv", "--force"), ("result", "new.jsonl")),
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
            there=True,
            seeds=("job",),
        ),
    )
}


def seeds(kind: str, *, sound: bool = False) -> list[bytes]:
    """The corpus of a kind: what is sound, and what once was found to do harm; or what is sound alone."""
    names = KINDS[kind].seeds or (kind,)
    paths = [path for name in names for path in sorted(CORPUS.glob(f"{name}-*"))]
    return [path.read_bytes() for path in paths if not (sound and "-harm-" in path.name)]


class Tried(NamedTuple):
    """What the commands made of a file."""

    faults: list[str]
    """What they did that they must not; see the module's tests."""
    statuses: list[int]
    """How each of them ended."""
    made: set[str]
    """The outputs that they wrote."""
    cells: int
    """So many cells of CSV files were looked at."""
    tags: int
    """So many tags of pages."""
    quoted: int
    """So often a script that was in the file stands in a page as harmless text."""


def faults_of(kind: Kind, data: bytes, folder: Path) -> list[str]:
    """Hand a file to the commands and tell what they did that they must not; see :func:`tried`."""
    return tried(kind, data, folder).faults


def tried(kind: Kind, data: bytes, folder: Path) -> Tried:
    """Hand a file to the commands and look at all that they do.

    Args:
        kind: what the file passes for.
        data: what is in it.
        folder: an empty one; it is left empty.
    """
    ground = Ground(folder)
    kind.path(ground.here).parent.mkdir(parents=True, exist_ok=True)
    kind.path(ground.here).write_bytes(data)
    whole = Tried([], [], set(), 0, 0, 0)
    for command in kind.commands:
        answer, found = _held(kind, command, ground)
        found += _told_badly(answer)
        made = {name for name in outputs_of(command) if _is_new(ground.here / name)}
        if answer.status and made:
            found.append(f"status {answer.status}, and yet there is {sorted(made)}")
        if kind.there and not all((ground.here / name).exists() for name in outputs_of(command)):
            found.append("takes away what was there")
        look = _look([ground.here / name for name in sorted(made)])
        whole = Tried(
            [*whole.faults, *(f"{' '.join(command)}: {what}" for what in (*found, *look.faults))],
            [*whole.statuses, answer.status],
            whole.made | made,
            whole.cells + look.cells,
            whole.tags + look.tags,
            whole.quoted + look.quoted,
        )
    ground.clear()
    return whole


def _held(kind: Kind, command: Sequence[str], ground: Ground) -> tuple[Answer, list[str]]:
    """Run a command; tells whether it was slow, and what it wrote that nobody asked for.

    A computer that is busy elsewhere slows the processor too, and other threads than this one stand in the queue:
    slow is what is slow each time, and finds each time what it found the first time.
    """
    _put_outputs(kind, command, ground)
    before = ground.known()
    for _ in range(_TIMES_SLOW):
        _put_outputs(kind, command, ground)
        with held_to_time() as slow:
            answer = run_command(command, ground.here)
        if not slow:
            break
    strays = ground.strays(before, command, outputs_of(command))
    return answer, [*slow, *([f"files that nobody asked for: {strays}"] if strays else [])]


def faults_with_a_pipe(kind: Kind, folder: Path) -> list[str]:
    """Put a named pipe that nobody writes into in the file's place, and tell which command waits for it."""
    ground = Ground(folder)
    pipe = kind.path(ground.here)
    pipe.parent.mkdir(parents=True, exist_ok=True)
    os.mkfifo(pipe)
    found: list[str] = []
    for command in kind.commands:
        waited = threading.Event()
        timer = threading.Timer(PIPE_SECONDS, _end_the_wait, (pipe, waited))
        timer.start()
        try:
            answer, broken = _held(kind, command, ground)
        finally:
            timer.cancel()
            timer.join()
        if waited.is_set():
            broken.append("waits for a pipe")
        broken += _told_badly(answer)
        status, words = _AT_A_PIPE.get(tuple(command), (1, "is no ordinary file"))
        if answer.status != status or words not in (answer.err if status else answer.out + answer.err):
            broken.append(f"not status {status} with {words!r}: {answer}"[:400])
        found += [f"{' '.join(command)}: {what}" for what in broken]
    ground.clear()
    return found


def _end_the_wait(pipe: Path, waited: threading.Event) -> None:
    """Let a reader that waits go on, with nothing to read; where there is none, opening fails at once."""
    with contextlib.suppress(OSError):
        os.close(os.open(pipe, os.O_WRONLY | os.O_NONBLOCK))
        waited.set()


def outputs_of(command: Sequence[str]) -> tuple[str, ...]:
    """The files that a command is told to write."""
    if command[0] == "import":
        return (command[1],)
    if command[:2] == ("job", "start"):
        return (command[2],)
    if "--to" not in command:
        return ()
    name = command[command.index("--to") + 1]
    return (name, f"{name}-metadata.json") if command[0] == "export" else (name,)


def _put_outputs(kind: Kind, command: Sequence[str], ground: Ground) -> None:
    ground.forget(command)
    for name in outputs_of(command):
        (ground.here / name).unlink(missing_ok=True)
        if kind.there:
            (ground.here / name).write_text(_OLDER, "utf-8")


def _is_new(path: Path) -> bool:
    return path.exists() and path.read_bytes() != _OLDER.encode()


def _told_badly(answer: Answer) -> Iterator[str]:
    status, out, err = answer
    if status not in (0, 1, 2):
        yield f"exit status {status}"
    if "fault of its own" in err or "Traceback" in out + err:
        yield f"a fault of its own: {err[:600]}"
    if not status and not out.strip():
        yield "says nothing"
    if status and len(err.splitlines()) != 1:
        yield f"status {status} with {len(err.splitlines())} lines on standard error"
    for stream in (out, err):
        odd = unfit_characters(stream)
        if odd:
            yield f"characters that no screen may get: {odd[:5]!r}"


def unfit_characters(text: str) -> list[str]:
    """Characters that could drive a terminal, hide others, or turn the reading order round."""
    return [c for c in text if c != "\n" and unicodedata.category(c) in {"Cc", "Cf", "Cs", "Zl", "Zp"}]


def _look(paths: Sequence[Path]) -> Tried:
    """Look at what was written."""
    csv_files = [path for path in paths if path.suffix == ".csv"]
    pages = [path.read_text("utf-8") for path in paths if path.suffix == ".html"]
    faults = [f"a formula in the CSV: {cell[:60]!r}" for path in csv_files for cell in formulas_in(path)]
    faults += [what for page in pages for what in scripts_in(page)]
    return Tried(
        faults,
        [],
        set(),
        sum(len(_cells(path)) for path in csv_files),
        sum(len(_TAG.findall(page)) for page in pages),
        sum(
            page.count(mark.replace("<", "&lt;").replace(">", "&gt;"))
            for page in pages
            for mark in MARKS_OF_HARM
        ),
    )


def scripts_in(page: str) -> list[str]:
    """What in a page would run something."""
    found = [f"{mark!r} in the page" for mark in MARKS_OF_HARM if mark in page]
    return found + [
        f"a tag that runs something in the page: {tag[0][:200]}" for tag in _RUNS_SOMETHING.finditer(page)
    ]


def formulas_in(path: Path) -> list[str]:
    """The cells of a CSV file, as a spreadsheet reads them, that it could run."""
    return [cell for cell in _cells(path) if cell.startswith(FORMULA_STARTS) and not _is_number(cell)]


def _cells(path: Path) -> list[str]:
    with path.open(encoding="utf-8", newline="") as file:
        return [cell for row in csv.reader(file) for cell in row]


def _is_number(cell: str) -> bool:
    """As a cell holds it; what Python takes besides, such as "+1_0" or blanks around it, is none."""
    return re.fullmatch(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?", cell, re.ASCII) is not None
