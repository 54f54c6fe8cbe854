"""A disk that is full, that stalls, that vanishes, in the middle of a run."""

from __future__ import annotations

import time
from pathlib import Path
from typing import NamedTuple

from daq.capture.launch import CaptureProcess
from daq.capture.spec import Resumed, Stalled, Status
from daq.recording.reader import read_recording
from tests.daq.capture.runs import events
from tests.faults.drives import WHY_NOT, may_mount, small_drive, stalling_drive
from tests.faults.rig import (
    Counter,
    Figure,
    counted,
    counters,
    readings_lost,
    seen_in,
    start_capture,
    wait_until,
)
from tests.stopwatch import stopwatch

__all__ = ["TOLD_WITHIN_S", "Outcome", "figures", "fill_the_disk", "stall_the_disk"]

TOLD_WITHIN_S = 3.0
"""What "at once" means: a drive that keeps its writer waiting is told of after 2 s."""
_WAITED_S = 30.0
_ON_THE_WAY_NS = 300_000_000


class Outcome(NamedTuple):
    """What became of a run."""

    lost: int
    """Readings lost, doubled or out of order, or sent before the end and not there."""
    told_after_s: float
    """From the trouble to the capture's word about it, without what a busy machine takes."""
    word: str
    """That word."""
    whole_meanwhile: bool
    """While the trouble lasted the file held whole lines only."""
    problems: list[str]
    """What the reader says of the recording."""
    events: list[str]
    """Kinds of the events in it."""


def fill_the_disk(folder: Path, full_s: float) -> Outcome:
    """A disk that fills up while a run goes on, and has room again after a while."""
    with small_drive(folder, 256 + round(40 * full_s)) as place, counters(folder) as instruments:
        path, filler = place / "run.jsonl", place / "filler"
        with start_capture(path, *instruments) as capture:
            wait_until(lambda: counted(path, 1) > 20, "first readings")
            _fill(filler)
            told_after_s, word = _await_word(capture, Stalled)
            time.sleep(full_s)
            whole = path.read_bytes().endswith(b"\n")
            filler.unlink()
            _await_word(capture, Resumed)
            return _end(capture, path, instruments, told_after_s, word, whole)


def stall_the_disk(folder: Path, stalled_s: float) -> Outcome:
    """A drive that takes nothing for a while and makes every writer wait."""
    with stalling_drive(folder) as drive, counters(folder) as instruments:
        path = drive.place / "run.jsonl"
        with start_capture(path, *instruments) as capture:
            wait_until(lambda: counted(path, 1) > 20, "first readings")
            with drive.stalled():
                began_s = time.monotonic()
                told_after_s, word = _await_word(capture, Stalled)
                time.sleep(max(0.0, began_s + stalled_s - time.monotonic()))
                whole = path.read_bytes().endswith(b"\n")
            _await_word(capture, Resumed)
            return _end(capture, path, instruments, told_after_s, word, whole)


def _fill(filler: Path) -> None:
    with filler.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"x" * 1024)
        except OSError:
            return


def _await_word(capture: CaptureProcess, kind: type[Status]) -> tuple[float, str]:
    """How long until the capture says so, and what; the time it was waited and nothing where it doesn't."""
    end_s, said = time.monotonic() + _WAITED_S, list[Status]()
    with stopwatch(capture.pid) as watch:
        while not said and time.monotonic() < end_s:
            time.sleep(0.02)
            said = [status for status in capture.poll_status() if isinstance(status, kind)]
    return watch.own_s, getattr(said[0], "text", "") if said else ""


def _end(
    capture: CaptureProcess,
    path: Path,
    instruments: tuple[Counter, ...],
    told_after_s: float,
    word: str,
    whole: bool,
) -> Outcome:
    stopped_ns = time.monotonic_ns()
    capture.stop()
    capture.wait(30)
    lost = 0
    for channel, instrument in enumerate(instruments):
        seen = seen_in(path, channel)
        numbers, sent_ns = instrument.sent()
        missing = (numbers > seen.numbers[-1]) & (sent_ns < stopped_ns - _ON_THE_WAY_NS)
        lost += readings_lost(seen) + int(missing.sum())
    kinds = [event["kind"] for kind in ("stall", "loss", "note") for event in events(path, kind)]
    return Outcome(lost, told_after_s, word, whole, read_recording(path).problems, kinds)


def figures(folder: Path, *, long: bool) -> list[Figure]:
    """The rows for the table."""
    if not may_mount():
        return [Figure("disk full, disk stalled", "0 lost", f"not tried: {WHY_NOT}", False)]
    rows = []
    for what, found in (
        (f"disk full for {60 if long else 1} s", fill_the_disk(folder, 60.0 if long else 1.0)),
        (f"drive stalled for {10 if long else 3} s", stall_the_disk(folder, 10.0 if long else 3.0)),
    ):
        lost = found.lost + len(found.problems) + (not found.whole_meanwhile)
        rows.append(Figure(f"{what}: readings lost, faults of the file", "0", str(lost), lost == 0))
        rows.append(
            Figure(
                f"{what}: told in words after",
                f"at once ({TOLD_WITHIN_S:g} s)",
                f"{found.told_after_s:.1f} s" if found.word else "not told",
                bool(found.word) and found.told_after_s <= TOLD_WITHIN_S,
            )
        )
    return rows
