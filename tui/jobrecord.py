"""Records a test of a job with one's instruments: the words before it, the capture, a line a second."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from daq.errors import RecordingError, SpinvoltError, UsageError
from tui.closing import close_capture, stopped_words
from tui.text import clean
from tui.wrapped import say, say_one

if TYPE_CHECKING:
    from daq.capture.launch import CaptureProcess
    from daq.capture.spec import CaptureSpec
    from daq.cards.instrument import InstrumentCard
    from daq.cards.machine import MachineCard
    from daq.job.job import Job
    from daq.job.plan import RecordingPlan
    from daq.job.status import StepStatus
    from daq.model.quantity import Quantity
    from tui.ownsource import OwnSource

__all__ = [
    "at_hand",
    "instruments_for",
    "no_instrument_reads",
    "plan_lines",
    "plan_spec",
    "readable",
    "record_and_take",
    "recording_path",
    "wait_until_ready",
]

_POLL_S = 0.1
_LINE_EVERY_S = 1.0
_UNITS = {"ohm": "Ω"}
_ON_THE_BENCH = {
    "rest_voltage": "loads off; wait 60",
    "loaded_voltage": "loads off; wait 60; loads on",
    "wiggle_watch": "wiggle on (and off afterwards)",
}
"""What else is to be typed to the virtual bench, where it is not that the loads are on."""


def at_hand(texts: Sequence[str]) -> list[tuple[InstrumentCard, str]]:
    """The cards and addresses of ``-i CARD@ADDRESS``, in their order.

    Raises:
        UsageError: one of them is no instrument, or is the keyboard.
        CardError: a card is missing or malformed.
    """
    from daq.catalog import load_catalog
    from daq.registry import load_registry
    from tui.runspec import split_instrument

    catalog = load_catalog(load_registry())
    found = []
    for card, address in map(split_instrument, texts):
        if address == "keyboard":
            raise UsageError("Readings of a job are typed straight into `spinvolt job next`, as NAME=VALUE.")
        found.append((catalog.instrument(card), address))
    return found


def readable(instruments: Sequence[tuple[InstrumentCard, str]]) -> frozenset[Quantity]:
    """What the instruments can read together."""
    return frozenset(channel.quantity for card, _ in instruments for channel in card.channel)


def instruments_for(
    plan: RecordingPlan, instruments: Sequence[tuple[InstrumentCard, str]]
) -> list[tuple[InstrumentCard, str]]:
    """Of all instruments at hand, those that a recording needs: one for its quantity, one for the speed."""
    from daq.job.plan import SPEEDS

    chosen: list[tuple[InstrumentCard, str]] = []
    meter = frozenset() if plan.quantity in SPEEDS else frozenset({plan.quantity})
    for wanted in (meter, SPEEDS):
        fitting = [each for each in instruments if wanted & {channel.quantity for channel in each[0].channel}]
        if fitting and not any(each in chosen for each in fitting):
            chosen.append(fitting[0])
    return chosen


def no_instrument_reads(plan: RecordingPlan) -> str:
    """The sentence for a reading that none of the instruments at hand gives."""
    from daq.catalog import load_catalog
    from daq.registry import load_registry

    cards = [found.card for found in load_catalog(load_registry()).instruments.values()]
    fitting = [card.name for card in cards if plan.fits({channel.quantity for channel in card.channel})]
    names = " and ".join(slot.name for slot in plan.slots)
    return (
        f"The next reading, {names}, is {plan.quantity.value.replace('_', ' ')}, and no instrument that was given "
        f"reads that. Cards that do: {', '.join(fitting) or 'none'}. Or type it in, as {plan.slots[0].name}=VALUE."
    )


def recording_path(job: Path, plan: RecordingPlan) -> Path:
    """A new file beside the job's, named after the job, the test and the reading."""
    stem = f"{job.stem}-{plan.step.name}-{plan.slots[0].name}"
    path, number = job.with_name(f"{stem}.jsonl"), 1
    while path.exists():
        number += 1
        path = job.with_name(f"{stem}-{number}.jsonl")
    return path


def plan_lines(
    plan: RecordingPlan, cards: Sequence[InstrumentCard], cautions: Sequence[str]
) -> Iterator[str]:
    """What to do before a recording begins."""
    from daq.job.sheet.meter_moves import engine_words, meter_move

    yield f"{plan.step.title.upper()} ({plan.step.name}): {', '.join(slot.title for slot in plan.slots)}"
    yield from (f"  ! {caution}" for caution in cautions)
    yield from (f"  - {each}" for each in plan.step.setup)
    *moves, _ = meter_move(None, plan.slots[0])
    yield f"  {' '.join(moves)}"
    yield f"  {' Then: '.join(engine_words(engine) for engine in plan.engine)}"
    if any(card.name.startswith("bench-") for card in cards):
        engines = ", then engine ".join(plan.engine)
        further = _ON_THE_BENCH.get(plan.slots[0].name, "loads on")
        yield f"  On the virtual bench type: leads {plan.place}; engine {engines}; {further}"


def record_and_take(
    job: Job,
    plan: RecordingPlan,
    instruments: Sequence[tuple[InstrumentCard, str]],
    seconds: float | None,
) -> StepStatus:
    """Record, with a line a second, and take the readings in; Ctrl-C ends it earlier, and what came is kept.

    Raises:
        SpinvoltError: no instrument could be opened, or nothing came; the text says which and why. Where something
            was recorded and could not be taken in, it also says where that lies and what to do.
    """
    from daq.capture.launch import CaptureProcess
    from tui.jobleft import with_what_is_left
    from tui.lostoutput import is_of_output, what_was_lost
    from tui.ownsource import OwnSource
    from tui.resulttext import recording_line

    spec = plan_spec(plan, instruments, job.machine, recording_path(job.path, plan), seconds)
    capture: CaptureProcess | None = None
    path: Path | None = None
    try:
        with CaptureProcess.start(spec) as capture:
            path = Path(capture.path)
            with OwnSource(capture) as source:
                try:
                    _record(capture, source, plan, spec.seconds)
                except SpinvoltError as error:
                    raise _with_put_back(error, source) from error
                finally:
                    path = source.path  # it may have been moved, or have gone on in another file
        print()
        if capture.left:
            say([recording_line(path, capture.left)])
        return job.take_planned(plan, path)
    except KeyboardInterrupt as error:
        if path is None or capture is None:
            raise
        stopped = SpinvoltError(stopped_words(capture, path))
        raise with_what_is_left(stopped, job, plan, path) from error
    except SpinvoltError as error:
        if path is None:
            raise
        raise with_what_is_left(error, job, plan, path) from error
    except OSError as error:
        if path is None or not (isinstance(error, BrokenPipeError) or is_of_output(error)):
            raise
        raise with_what_is_left(SpinvoltError(what_was_lost(error)), job, plan, path) from error


def _with_put_back(error: SpinvoltError, source: OwnSource) -> SpinvoltError:
    told = source.put_back()
    return type(error)(f"{error}{told}") if told else error


def _record(capture: CaptureProcess, source: OwnSource, plan: RecordingPlan, seconds: float | None) -> None:
    capture.step(plan.step.name, "started")
    print(f"Recording {seconds:g} s to {Path(capture.path).name}; Ctrl-C ends it earlier.", flush=True)
    try:
        with contextlib.suppress(KeyboardInterrupt):
            _follow(capture, source, _cues(plan, seconds))
    except RecordingError:
        close_capture(capture, lambda: source.path)  # where the capture failed too, its sentence tells why
        raise
    close_capture(capture, lambda: source.path, say_one)
    source.go_on()
    source.poll()  # so that it knows where the recording lies now


def plan_spec(
    plan: RecordingPlan,
    instruments: Sequence[tuple[InstrumentCard, str]],
    machine: MachineCard,
    path: Path,
    seconds: float | None,
) -> CaptureSpec:
    """What the capture is told.

    Args:
        plan: what is recorded.
        instruments: with which.
        machine: the machine under test.
        path: where the recording goes.
        seconds: how long, or None for as long as the plan says.
    """
    import msgspec

    from daq.capture.spec import CaptureSpec, InstrumentSpec

    return CaptureSpec(
        path=str(path),
        instruments=[InstrumentSpec(card=msgspec.to_builtins(card), address=a) for card, a in instruments],
        machine=msgspec.to_builtins(machine),
        seconds=plan.seconds if seconds is None else seconds,
        note=f"{plan.step.title}: {', '.join(slot.name for slot in plan.slots)}",
    )


def _cues(plan: RecordingPlan, seconds: float | None) -> list[tuple[float, str]]:
    """What the person is told to do in the course of a recording, and when; a shorter one hurries."""
    from daq.job.sheet.meter_moves import engine_words

    hurry = 1.0 if seconds is None else min(1.0, seconds / plan.seconds)
    return [(at_s * hurry, f"Now: {engine_words(engine)}") for at_s, engine in plan.changes()]


def _follow(capture: CaptureProcess, source: OwnSource, cues: list[tuple[float, str]]) -> None:
    """Print the newest readings once a second, and what happens, until the recording is closed.

    ``cues``: what to tell the person, by seconds since now; each is taken off when it was told.
    """
    from daq.model.reading import Quality
    from daq.recording.entries import EventEntry

    newest: dict[int, str] = {}
    told: set[tuple[int, str]] = set()  # a recording that goes on in another file is read anew
    began_s = said_s = time.monotonic()
    while not source.finished and (capture.running or not source.at_end):
        source.go_on()
        batch = source.poll()
        for entry in batch.entries:
            if isinstance(entry, EventEntry) and (entry.t_ns, entry.text) not in told:
                told.add((entry.t_ns, entry.text))
                print(f"  {clean(entry.text)}", flush=True)
        channels = source.intake.channels
        for channel, value, quality in zip(
            batch.channel.tolist(), batch.value.tolist(), batch.quality.tolist(), strict=True
        ):
            unit = channels[channel].unit
            said = f"{value:g} {_UNITS.get(unit, unit)}"
            newest[channel] = (
                said if quality == Quality.GOOD else Quality(quality).name.lower().replace("_", " ")
            )
        if cues and time.monotonic() - began_s >= cues[0][0]:
            print(f"  {cues.pop(0)[1]}", flush=True)
        if time.monotonic() - said_s >= _LINE_EVERY_S:
            said_s += _LINE_EVERY_S
            print(f"  {', '.join(newest[c] for c in sorted(newest)) or 'nothing yet'}", flush=True)
        time.sleep(_POLL_S)


def wait_until_ready() -> None:
    """On a terminal: until Enter is pressed. Elsewhere there is nobody to wait for."""
    if sys.stdin is None or not sys.stdin.isatty():
        return
    print("Press Enter when all is set; Ctrl-C leaves.", end="", flush=True)
    sys.stdin.readline()
