"""Hours of instruments that misbehave: ``python -m tests.faults.soak HOURS [FOLDER]``.

One real capture reads four counting instruments. Over and over, at random and each on its own, they are unplugged
and put back, under the same name, another one or each other's; send junk; send ten times too fast; stop half-way
through a line for up to 5 s; two are pulled at once. A row each five minutes tells how it stands, and the rows at
the end hold it against what is wanted. The recording stays in FOLDER, where one is given.
"""

from __future__ import annotations

import contextlib
import random
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from daq.capture.launch import CaptureProcess
from tests.daq.capture.runs import spec
from tests.faults import capture_child
from tests.faults.adapters import Adapter
from tests.faults.plugs import held_by
from tests.faults.rig import Figure, wait_until
from tests.faults.soak_judge import Judge

__all__ = ["Soaked", "figures", "main", "soak"]

INSTRUMENTS = 4
_NAMES = [f"ttyUSB{number}" for number in range(2 * INSTRUMENTS)]
_ROW_EVERY_S = 300.0
_LOOK_EVERY_S = 0.25
_TURN_S = 0.02
_BACK_WITHIN_S = 15.0
"""The longest pause between two tries, and some."""
_MOST_GROWN_MB = 5.0
_FILLS_S = 600.0
"""After so long the last minutes that are kept in memory are as many as they ever are: growth counts from then."""


class Soaked(NamedTuple):
    """What became of a run."""

    readings: int
    done: dict[str, int]
    """How often what was done to an instrument."""
    false: int
    doubled: int
    missing: int
    spoilt: int
    slowest_s: float
    told: tuple[int, int]
    """Links told lost, and told connected again."""
    held: tuple[tuple[int, int, int], tuple[int, int, int]]
    """Open files, threads and memory of the capture when all are plugged in: before and after."""
    rows: tuple[int, int]
    """Readings of any quality in the recording: as the capture told when it closed it, and as the judge counted."""
    faults: list[str]


class Tormentor:
    """Decides what happens to the instruments, and when.

    Attributes:
        done: how often it did what.
    """

    def __init__(self, adapters: Sequence[Adapter], judge: Judge, rng: random.Random, pause_s: float) -> None:
        self.done = dict.fromkeys(("same name", "other name", "junk", "too fast", "half a line"), 0)
        self._adapters = adapters
        self._judge = judge
        self._rng = rng
        self._pause_s = pause_s
        self._due_s = {a.owner: time.monotonic() + rng.uniform(0, pause_s) for a in adapters}
        self._names: dict[int, tuple[str, str]] = {}
        """The name that one who is out had, and the one that it wants, "" for whichever is free."""
        self._returning: set[int] = set()

    def turn(self) -> None:
        """Do whatever is due."""
        for adapter in self._adapters:
            if adapter.owner in self._returning:
                self._await(adapter)
            elif time.monotonic() >= self._due_s[adapter.owner]:
                if not adapter.name:
                    self._put_back(adapter)
                elif adapter.idle:
                    self._torment(adapter)

    def all_well(self) -> bool:
        """Put back whoever is out; whether all are read again."""
        for adapter in self._adapters:
            if not adapter.name:
                self._put_back(adapter)
        return all(self._judge.back_for_good(adapter.owner) for adapter in self._adapters)

    def _await(self, adapter: Adapter) -> None:
        if self._judge.back_for_good(adapter.owner):
            self._returning.discard(adapter.owner)
            self._pause(adapter)
        assert time.monotonic() < self._due_s[adapter.owner] + 4 * _BACK_WITHIN_S, (
            f"instrument {adapter.owner} was put back as {adapter.name} and is not read again"
        )

    def _pause(self, adapter: Adapter, lasts_s: float = 0.0) -> None:
        """Calm after what lasts so long, enough of it for the judge to tell two misfortunes apart."""
        calm_s = 0.3 + self._rng.expovariate(1 / self._pause_s)
        self._due_s[adapter.owner] = time.monotonic() + lasts_s + calm_s

    def _torment(self, adapter: Adapter) -> None:
        rng = self._rng
        what = rng.choices(("pull", "junk", "too fast", "half a line"), (5, 2, 1, 3))[0]
        if what == "pull":
            self._pull(adapter)
            return
        self.done[what] += 1
        lasts_s = 0.0
        if what == "junk":
            adapter.junk(_junk(rng))
        elif what == "too fast":
            lasts_s = rng.uniform(0.2, 2 * self._pause_s)
            adapter.hurry(lasts_s)
        else:
            lasts_s = 0.1 * 50 ** rng.random()
            adapter.halt(rng.randint(1, 7), lasts_s, goes_on=rng.random() < 0.5)
        self._pause(adapter, lasts_s)

    def _pull(self, adapter: Adapter) -> None:
        """One, or two at once, which may be given each other's names."""
        rng = self._rng
        others = [a for a in self._adapters if a is not adapter and a.idle and a.owner not in self._returning]
        pulled = [adapter, *(rng.sample(others, 1) if others and rng.random() < 0.3 else [])]
        names = [a.name for a in pulled]
        had = {a.owner: a.name for a in pulled}
        away_s = rng.choices((rng.uniform(0, 0.3), rng.uniform(0.3, 4), rng.uniform(4, 20)), (12, 7, 1))[0]
        if len(pulled) == 2 and rng.random() < 0.5:
            names.reverse()
        elif rng.random() < 0.5:
            names = ["" for _ in pulled]
        for one, name in zip(pulled, names, strict=True):
            one.pull(rng.choice((b"", b"AC 1", b"AC 999", b"\xff\x00junk")), drain=rng.random() < 0.5)
            self._names[one.owner] = (had[one.owner], name)
            self._due_s[one.owner] = time.monotonic() + away_s

    def _put_back(self, adapter: Adapter) -> None:
        rng, taken = self._rng, {a.name for a in self._adapters}
        had, name = self._names.pop(adapter.owner)
        if not name or name in taken:
            name = rng.choice([name for name in _NAMES if name not in taken])
        self.done["same name" if name == had else "other name"] += 1
        adapter.plug_in(name, rng.choice((b"", b"\x00\x80\r\n", b"9 V\r\n")))
        self._due_s[adapter.owner] = time.monotonic()
        self._returning.add(adapter.owner)


def _junk(rng: random.Random) -> bytes:
    """No digits, nor what can stand in a number: a line that has one is one, for that is what the instrument said."""
    data = rng.randbytes(round(10 ** rng.uniform(0.5, 3.5)))
    return data.translate(None, b"0123456789+-.,eE")


def soak(
    folder: Path,
    seconds: float,
    *,
    seed: int = 1,
    pause_s: float = 3.0,
    row_every_s: float = _ROW_EVERY_S,
    tell: Callable[[str], None] = lambda row: None,
) -> Soaked:
    """Torment a capture for so long.

    Args:
        folder: empty.
        seconds: how long.
        seed: of what happens when.
        pause_s: mean of the calm between two of an instrument's misfortunes.
        row_every_s: from row to row.
        tell: takes the rows.
    """
    path = folder / "soak.jsonl"
    for name in ("dev", "usb"):
        (folder / name).mkdir()
    with contextlib.ExitStack() as stack:
        adapters = [stack.enter_context(Adapter(folder, owner)) for owner in range(INSTRUMENTS)]
        wanted = spec(path, *(("text-volts", str(folder / "dev" / a.name)) for a in adapters), patient=True)
        capture = stack.enter_context(CaptureProcess.start(wanted, command=capture_child.command(folder)))
        judge = Judge(path, adapters)
        tormentor = Tormentor(adapters, judge, random.Random(seed), pause_s)
        wait_until(lambda: judge.look() and tormentor.all_well(), "first readings")
        before = held_by(capture.pid)
        tell(_HEAD)
        begun_s = time.monotonic()
        for until_s in (_FILLS_S, seconds) if seconds > 2 * _FILLS_S else (seconds,):
            _torment(
                tormentor,
                judge,
                (begun_s, begun_s + until_s),
                row_every_s,
                lambda hours: tell(_row(hours, tormentor, judge, capture.pid)),
            )
            if until_s < seconds:
                before = (*before[:2], held_by(capture.pid)[2])
        wait_until(lambda: judge.look() and tormentor.all_well(), "all are back", 4 * _BACK_WITHIN_S)
        after = held_by(capture.pid)
        capture.stop()
        closed = capture.wait(20)
        judge.look()
    return Soaked(
        judge.readings,
        tormentor.done,
        judge.false,
        judge.doubled,
        judge.missing,
        judge.spoilt,
        judge.slowest_s,
        (judge.events["link_lost"], judge.events["connected"]),
        (before, after),
        (closed.readings, judge.rows),
        judge.faults,
    )


def _torment(
    tormentor: Tormentor,
    judge: Judge,
    span_s: tuple[float, float],
    row_every_s: float,
    tell: Callable[[float], None],
) -> None:
    """Go on until the end of the span; a row at each multiple of so many seconds from its beginning."""
    begun_s, end_s = span_s
    look_s = time.monotonic()
    row_s = begun_s + row_every_s * ((look_s - begun_s) // row_every_s + 1)
    while (now_s := time.monotonic()) < end_s:
        tormentor.turn()
        if now_s >= look_s:
            judge.look()
            look_s = now_s + _LOOK_EVERY_S
        if now_s >= row_s:
            tell((now_s - begun_s) / 3600)
            row_s += row_every_s
        time.sleep(_TURN_S)


_HEAD = (
    " hours  readings  replugs same/other  junk  fast  half  false doubled missing  told lost/back  spoilt"
    "  slowest s  files threads   MB"
)


def _row(hours: float, tormentor: Tormentor, judge: Judge, pid: int) -> str:
    files, threads, memory = held_by(pid)
    done, told = tormentor.done, judge.events
    return (
        f"{hours:6.3f}{judge.readings:10d}{done['same name']:14d}/{done['other name']:<5d}{done['junk']:6d}"
        f"{done['too fast']:6d}{done['half a line']:6d}{judge.false:7d}{judge.doubled:8d}{judge.missing:8d}"
        f"{told['link_lost']:9d}/{told['connected']:<5d}{judge.spoilt:8d}{judge.slowest_s:11.1f}"
        f"{files:7d}{threads:8d}{memory / 1e6:7.1f}"
    )


def figures(folder: Path, seconds: float, tell: Callable[[str], None]) -> list[Figure]:
    """The rows for the table."""
    found = soak(folder, seconds, tell=tell)
    replugs = found.done["same name"] + found.done["other name"]
    wrong = (found.false, found.doubled, found.missing)
    for fault in found.faults:
        tell(fault)
    (files, threads, memory), (files_after, threads_after, memory_after) = found.held
    more = (files_after - files, threads_after - threads, (memory_after - memory) / 1e6)
    what = f"{seconds / 3600:g} h, {found.readings} readings, {replugs} replugs, {found.done['other name']} elsewhere"
    return [
        Figure(
            f"{what}: false, doubled, missing values not told", "0, 0, 0", str(wrong)[1:-1], not any(wrong)
        ),
        Figure(
            "the same: readings that the capture says it wrote, less those in the file",
            "0",
            str(found.rows[0] - found.rows[1]),
            found.rows[0] == found.rows[1],
        ),
        Figure(
            "the same: told lost and back",
            f"{replugs}, {replugs}",
            str(found.told)[1:-1],
            found.told == (replugs, replugs),
        ),
        Figure(
            "the same: the longest from a plug put back to its first reading",
            f"{_BACK_WITHIN_S:g} s",
            f"{found.slowest_s:.1f} s",
            found.slowest_s < _BACK_WITHIN_S,
        ),
        Figure(
            f"the same: open files, threads, memory of the capture grown by (memory from {_FILLS_S / 60:g} min on)",
            f"0, 0, {_MOST_GROWN_MB:g} MB",
            f"{more[0]}, {more[1]}, {more[2]:.1f} MB",
            more[:2] == (0, 0) and more[2] < _MOST_GROWN_MB,
        ),
    ]


def main() -> int:
    """Print the rows; the exit status tells whether all is as wanted."""
    hours = float(sys.argv[1])
    with contextlib.ExitStack() as stack:
        if len(sys.argv) > 2:
            folder = Path(sys.argv[2])
        else:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="spinvolt-soak-")))
        rows = figures(folder, 3600 * hours, lambda row: print(row, flush=True))
    print("what | wanted | measured")
    for row in rows:
        print(row.row())
    return 0 if all(row.met for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
