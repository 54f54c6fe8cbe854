"""A run told line by line, for a screen reader, a log, or a terminal that can't be drawn on."""

from __future__ import annotations

import contextlib
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from typing import TYPE_CHECKING

from daq.errors import SpinvoltError
from tui.control import BY_HAND
from tui.text import clean
from tui.view.numbers import clock, fixed, plus_minus, screen_decimals
from tui.view.state import ViewState

if TYPE_CHECKING:
    from types import FrameType

    from daq.recording.entries import EventEntry
    from daq.run.snapshot import Snapshot
    from tui.control import Control
    from tui.dashboard.feed import Updatable

__all__ = ["asked_to_stop", "events_after", "follow_headless", "progress_line"]

_LINE_EVERY_S = 1.0
_PAUSE_S = 0.05
_CLOSE_PATIENCE_S = 10.0
_LONGEST_ANSWER = 400


def follow_headless(
    run: Updatable,
    control: Control,
    say: Callable[[str], None],
    *,
    lines: bool = True,
    asked: Callable[[], bool] | None = None,
) -> Snapshot | None:
    """Follow a run to its end, with a sentence a second at most.

    SIGINT and SIGTERM ask for the end; the run is then followed until it is closed. So it is where nobody
    takes the sentences any more, if it is a run that this program records.

    Args:
        run: gives snapshots.
        control: what the person can do to it.
        say: takes a sentence.
        lines: tell where the run stands each second; else only what happens to it.
        asked: whether the end was asked for, where the caller takes the signals.

    Returns:
        The last snapshot; None where the capture ended before there was one.

    Raises:
        OutputLost: a sentence could not be written; the run was followed to its end all the same.
        SpinvoltError: the run could not be followed.
        OSError: a sentence could not be written, and the run is not recorded here.
    """
    telling = _Telling(say, control)
    try:
        with asked_to_stop() if asked is None else nullcontext(asked) as stop_asked:
            snapshot = _follow(
                run,
                control,
                telling.say,
                lambda: telling.why_end() or (BY_HAND if stop_asked() else ""),
                lines=lines,
            )
    except SpinvoltError:
        telling.raise_lost()  # the run was ended for it; a capture without a reading leaves no recording to follow
        raise
    telling.raise_lost()
    return snapshot


class _Telling:
    """Takes sentences as long as they can be said; a run that this program records goes on to its close after that."""

    def __init__(self, say: Callable[[str], None], control: Control) -> None:
        self.lost: OSError | None = None
        self._say = say
        self._control = control

    def say(self, sentence: str) -> None:
        """Say it.

        Raises:
            OSError: it could not be written, and nothing is recorded here.
        """
        if self.lost is not None:
            return
        try:
            self._say(sentence)
        except OSError as error:
            if not self._control.records:
                raise
            self.lost = error

    def why_end(self) -> str:
        """Why the run is to end for it, or ""."""
        return "" if self.lost is None else "its output could not be written"

    def raise_lost(self) -> None:
        """Raise what the output failed of, now that the run is closed."""
        if self.lost is not None:
            from tui.lostoutput import OutputLost

            raise OutputLost(self.lost)


def _follow(
    run: Updatable,
    control: Control,
    say: Callable[[str], None],
    why_end: Callable[[], str],
    *,
    lines: bool,
) -> Snapshot:
    told: EventEntry | None = None
    said_s = time.monotonic()
    asked_s: float | None = None
    read = -1
    lasting: frozenset[str] = frozenset()
    warnings: set[str] = set()
    while True:
        snapshot = run.update()
        now_s = time.monotonic()
        for event in events_after(snapshot.events, told):
            if event.kind != "stall" or event.text not in warnings:  # else it was said while it lasted
                say(f"{clock(event.t_ns / 1e9)}, {clean(event.text)}")
            told = event
        for answer in control.answers():
            say(clean(answer.text, _LONGEST_ANSWER))
        warned = control.warning()
        if warned and warned not in lasting:
            warnings.add(warned)
            say(clean(warned))
        # That it is over is an event, which the disk now takes; until then two words may take turns.
        lasting = lasting | {warned} if warned else frozenset()
        before, read = read, sum(health.readings for health in snapshot.health)
        if snapshot.finished or (read == before and control.trouble()):
            return snapshot
        if asked_s is None and (reason := why_end()):
            asked_s = now_s
            control.stop(reason)
        if asked_s is not None and (not control.records or now_s - asked_s > _CLOSE_PATIENCE_S):
            return snapshot
        if now_s - said_s >= _LINE_EVERY_S:
            said_s += _LINE_EVERY_S * ((now_s - said_s) // _LINE_EVERY_S)
            if lines and asked_s is None:
                say(progress_line(snapshot) if not warned else _unseen_line(snapshot))
        if read == before:
            time.sleep(_PAUSE_S)


def events_after(events: Sequence[EventEntry], told: EventEntry | None) -> Sequence[EventEntry]:
    """Those that came after the one last told; all where that one is not among them any more.

    A recording that goes on in another file is read anew: its events are the same, and other objects.
    """
    for index in range(len(events) - 1, -1, -1):
        if events[index] == told:
            return events[index + 1 :]
    return events


def progress_line(snapshot: Snapshot) -> str:
    """One line: time, speed, volts, rated output so far, and what to do."""
    from tui.view.build import build_view

    return _words(build_view(snapshot, typing="line"), snapshot)


def _unseen_line(snapshot: Snapshot) -> str:
    return f"{clock(snapshot.t_s)}, not shown while the disk takes nothing: what comes waits in memory."


def _words(view: ViewState, snapshot: Snapshot) -> str:
    speed = view.speed.digits.strip()
    age = f", {view.speed.age}" if view.speed.age else ""
    parts = [f"{view.elapsed}", f"{speed} rpm{age}" if speed.strip("-") else "no speed", view.raw_volts]
    value, expanded = snapshot.result.rated_voltage_V, snapshot.result.expanded_uncertainty_V
    if value is not None and expanded is not None:
        decimals = screen_decimals(expanded, None)
        least = bool(snapshot.result.unknown_errors)
        parts.append(f"rated output {fixed(value, decimals)} V {plus_minus(expanded, least=least)}")
    parts.append(view.verdict.words)
    return f"{', '.join(parts)}. {view.now}"


@contextmanager
def asked_to_stop() -> Iterator[Callable[[], bool]]:
    """Note SIGINT and SIGTERM instead of being ended by them; a second SIGINT interrupts."""
    asked: list[int] = []

    def note(number: int, _frame: FrameType | None) -> None:
        if number in asked and number == signal.SIGINT:
            raise KeyboardInterrupt
        asked.append(number)

    before = {}
    for number in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(ValueError):  # not the main thread: the signals are someone else's
            before[number] = signal.signal(number, note)
    try:
        yield lambda: bool(asked)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
