"""A capture that is killed outright at random moments, and what is left of its recording."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import os
import random
import re
import signal
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np

from daq.recording.reader import read_recording
from tests.faults.rig import (
    Counter,
    Figure,
    Int64,
    counted,
    counters,
    readings_lost,
    seen_in,
    start_capture,
    wait_until,
)

__all__ = ["TOLD_WRONG_BY_S", "Kill", "Killed", "figures", "kill_captures"]

TOLD_WRONG_BY_S = 2.0
"""The last reading is a little older than the kill, and the moment of the day is told in whole seconds."""
_MAY_BE_LOST_S = 0.5
_SENDER_PAUSES_S = 0.05
_COMMANDS = [
    ("result", "{file}"),
    ("result", "{file}", "--json"),
    ("replay", "{file}", "--headless", "--rate", "0"),
    ("export", "{file}", "--to", "{csv}"),
]
if importlib.util.find_spec("tui.commands.report") is not None:
    _COMMANDS.append(("report", "{file}", "--to", "{html}"))


class Kill(NamedTuple):
    """When it was, on the clocks of the one who kills."""

    begun_ns: tuple[int, int]
    """Monotonic; the capture began at some moment between the two."""
    t_ns: int
    """Monotonic."""
    at: datetime

    def missed_s(self, told: str) -> float:
        """How far the second of the session and the moment of the day in a sentence are from it."""
        match = re.search(r"at (\d+\.\d{3}) s \((\d{4}-\d\d-\d\d \d\d:\d\d:\d\d) UTC\)", told)
        if match is None:
            return float("inf")
        shortest_s, longest_s = ((self.t_ns - begun_ns) / 1e9 for begun_ns in reversed(self.begun_ns))
        second = float(match[1])
        day_s = (datetime.fromisoformat(match[2]).replace(tzinfo=UTC) - self.at).total_seconds()
        return max(abs(day_s), shortest_s - second, second - longest_s)


class Killed(NamedTuple):
    """What was found after one kill."""

    missing: int
    """Readings lost, doubled or out of order before the last one that is there."""
    lost_s: float
    """Age, at the kill, of the oldest reading that was sent and is not there, without the time in which the machine let
    not even its sender run.
    """
    told: str
    """How the recording says that it was cut off."""
    told_wrong_s: float
    """How far the moment that it tells, and its date, are from the kill, again without that time; infinite where it
    tells none.
    """
    open_s: float
    refused: tuple[str, ...]
    """Commands that did not work on it, with what they said."""


def kill_captures(
    folder: Path, times: int, longest_s: float, *, commands_every: int = 1, seed: int = 1
) -> list[Killed]:
    """Start a capture, kill it at a random moment, look at what is there; that many times over.

    Args:
        folder: an empty one.
        times: how often.
        longest_s: latest moment, from the first readings.
        commands_every: hand one of so many recordings to all commands.
        seed: of the moments.
    """
    rng = random.Random(seed)
    found = []
    with counters(folder) as instruments:
        for number in range(times):
            path = folder / f"killed-{number}.jsonl"
            called_ns = time.monotonic_ns()
            capture = start_capture(path, *instruments)
            begun_ns = (called_ns, time.monotonic_ns())
            try:
                _await_both(path)
                time.sleep((number + rng.random()) / times * longest_s)  # spread, so that none are all early
                kill = Kill(begun_ns, time.monotonic_ns(), datetime.now(UTC))
                os.kill(capture.pid, signal.SIGKILL)
            finally:
                capture.close()
            found.append(_look(path, instruments, kill, commands=number % commands_every == 0))
            path.unlink()
    return found


def _await_both(path: Path) -> None:
    wait_until(lambda: counted(path, 0) > 0 and counted(path, 1) > 0, "first readings")


def _look(path: Path, instruments: tuple[Counter, ...], kill: Kill, *, commands: bool) -> Killed:
    missing, lost_s, halted_s = 0, 0.0, 0.0
    for channel, instrument in enumerate(instruments):
        seen = seen_in(path, channel)
        missing += readings_lost(seen)
        numbers, sent_ns = instrument.sent()
        unseen = sent_ns[(numbers > seen.numbers[-1]) & (sent_ns < kill.t_ns)]
        if len(unseen):
            lost_s = max(lost_s, (kill.t_ns - int(unseen[0])) / 1e9 - _halted_s(unseen, kill.t_ns))
        halted_s = max(
            halted_s, _halted_s(sent_ns[(numbers >= seen.numbers[-1]) & (sent_ns < kill.t_ns)], kill.t_ns)
        )
    began_s = time.perf_counter()
    recording = read_recording(path)
    open_s = time.perf_counter() - began_s
    told = next((problem for problem in recording.problems if "cut off" in problem), "")
    wrong_s = kill.missed_s(told) - halted_s
    return Killed(missing, lost_s, told, wrong_s, open_s, tuple(_refused(path)) if commands else ())


def _halted_s(sent_ns: Int64, kill_ns: int) -> float:
    """For how long a sender that only wakes and writes each hundredth of a second was kept from it."""
    pauses_s = np.diff(np.append(sent_ns, kill_ns)) / 1e9
    return float(pauses_s[pauses_s > _SENDER_PAUSES_S].sum())


def _refused(path: Path) -> list[str]:
    """The commands that do not do their work on a recording."""
    from tui.__main__ import main

    refused = []
    csv, html = path.with_suffix(".csv"), path.with_suffix(".html")
    for words in _COMMANDS:
        arguments = [word.format(file=path, csv=csv, html=html) for word in words]
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = main(arguments)
        if status != 0 or err.getvalue() or not out.getvalue():
            refused.append(f"{words[0]}: {status} {err.getvalue()}")
    for made in (csv, Path(f"{csv}-metadata.json"), *_further(html)):
        if made.exists():
            made.unlink()
        else:
            refused.append(f"no {made.name}")
    return refused


def _further(html: Path) -> list[Path]:
    return [html] if any(words[0] == "report" for words in _COMMANDS) else []


def figures(folder: Path, *, long: bool) -> list[Figure]:
    """The rows for the table."""
    found = kill_captures(folder, 200 if long else 8, 2.0 if long else 0.9)
    worst_s = max(one.lost_s for one in found)
    odd = [one for one in found if one.missing or one.told_wrong_s > TOLD_WRONG_BY_S or one.refused]
    return [
        Figure(
            f"SIGKILL of the capture at {len(found)} moments: oldest reading that is missing",
            f"{_MAY_BE_LOST_S} s",
            f"{worst_s:.2f} s",
            worst_s <= _MAY_BE_LOST_S,
        ),
        Figure(
            "the same: holes, not told when within 2 s, or refused by result, replay, export",
            "0",
            f"{len(odd)}{f' ({odd[0]})' if odd else ''}",
            not odd,
        ),
        Figure(
            "the same: slowest opening of what is left",
            "at once (0.5 s)",
            f"{max(one.open_s for one in found):.3f} s",
            max(one.open_s for one in found) < 0.5,
        ),
    ]
