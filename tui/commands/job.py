"""``spinvolt job``: the whole way from "can it carry its loads?" to a proven repair."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.cards.instrument import InstrumentCard
    from daq.job.job import Job
    from daq.job.plan import RecordingPlan
    from daq.job.sheet.steps import Step
    from daq.job.status import StepStatus

from tui.commands.options import seconds
from tui.wrapped import say

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "job"
HELP = "guided tests of a charging system, the likely fault, and the proof of its repair"
DESCRIPTION = (
    "Leads through the tests of a charging system one by one, judges each, names the likely fault with its reasons, "
    "and proves the repair. A job file can be left at any point and picked up days later with another meter."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    actions = parser.add_subparsers(
        dest="action", metavar="ACTION", required=True, parser_class=_parser_class()
    )
    start = actions.add_parser("start", help="begin a job", allow_abbrev=False)
    start.add_argument("file", type=Path, metavar="FILE", help="the job file to write")
    start.add_argument(
        "--machine", required=True, metavar="CARD", help="machine card: its name, or its .toml file"
    )
    start.add_argument("--note", default="", metavar="TEXT", help="what was complained of, or anything else")
    start.add_argument("--force", action="store_true", help="replace the file that is there")
    _configure_next(actions.add_parser("next", help="the next test, or its readings", allow_abbrev=False))
    shown = actions.add_parser("open", help="the job on the dashboard, step by step", allow_abbrev=False)
    shown.add_argument("file", type=Path, metavar="FILE", help="the job file")
    shown.add_argument(
        "-i",
        "--instrument",
        dest="instruments",
        action="append",
        metavar="CARD@ADDRESS",
        help="an instrument to record with; without any, those that were used last",
    )
    shown.add_argument("--plain", action="store_true", help="draw the dashboard with ASCII characters only")
    status = actions.add_parser("status", help="where the job stands", allow_abbrev=False)
    status.add_argument("file", type=Path, metavar="FILE", help="the job file")
    report = actions.add_parser("report", help="the whole job", allow_abbrev=False)
    report.add_argument("file", type=Path, metavar="FILE", help="the job file")
    form = report.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="as JSON")
    form.add_argument("--to", type=Path, metavar="OUT.html", help="as a page to print or send")
    report.add_argument("--force", action="store_true", help="replace the page that is there")


def _parser_class() -> type[argparse.ArgumentParser]:
    from tui.cli import Parser

    class Intermixed(Parser):
        """Readings may stand before and after the options."""

        _within = False

        def parse_known_args(self, args=None, namespace=None):  # type: ignore[no-untyped-def]  # as argparse's
            if self._within:
                return super().parse_known_args(args, namespace)
            self._within = True
            try:
                return self.parse_known_intermixed_args(args, namespace)
            finally:
                self._within = False

    return Intermixed


def _configure_next(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="the job file")
    parser.add_argument(
        "readings",
        nargs="*",
        metavar="READING",
        help="NAME=VALUE as the test lists them, NAME=RUN.jsonl or RUN.jsonl for a recording, or one VALUE alone; "
        "with -i the NAME of the reading to record",
    )
    parser.add_argument(
        "-i",
        "--instrument",
        dest="instruments",
        action="append",
        metavar="CARD@ADDRESS",
        help="record the next reading with this instrument, as `spinvolt run` does; give all that are at hand, and "
        "the one that fits is taken",
    )
    parser.add_argument(
        "--seconds", type=seconds, metavar="S", help="record so long, not as long as the test says"
    )
    parser.add_argument("--step", metavar="TEST", help="another test than the next one")
    parser.add_argument(
        "--with", dest="instrument", metavar="CARD", help="card of the instrument that was read off"
    )
    parser.add_argument("--skip", metavar="REASON", help="leave the test out")
    parser.add_argument("--repaired", metavar="WHAT", help="something was repaired: what failed is due again")
    parser.add_argument("--note", metavar="TEXT", help="write a note down")


def execute(arguments: argparse.Namespace) -> int:
    """Do what the action says."""
    action = {"start": _start, "next": _next, "open": _open_screen, "status": _status, "report": _report}[
        arguments.action
    ]
    return action(arguments)


def _open_screen(arguments: argparse.Namespace) -> int:
    """Show the job on the dashboard.

    Raises:
        UsageError: there is no terminal to draw on.
    """
    from daq.errors import UsageError
    from tui.terminal import has_terminal

    job = _open(arguments.file)
    if not has_terminal():
        raise UsageError(
            f"The dashboard needs a terminal; `spinvolt job next {arguments.file}` goes on without one."
        )
    from tui.connecting import last_used
    from tui.dashboard.job_screen import JobScreen
    from tui.following import show_screen
    from tui.jobrecord import at_hand

    instruments = at_hand(arguments.instruments) if arguments.instruments else last_used()
    show_screen(JobScreen(job, instruments), plain=arguments.plain, results=False)
    print(f"The job is in {arguments.file}.")
    return 0


def _open(path: Path) -> Job:
    from daq.job.job import Job
    from daq.model.clock import SystemClock
    from tui.progress import progress

    with progress(f"reading {path.name}") as bar:
        return Job.open(path, SystemClock(), bar)


def _start(arguments: argparse.Namespace) -> int:
    from daq.cards.open_points import open_points
    from daq.catalog import machine_card
    from daq.job.job import Job
    from daq.model.clock import SystemClock

    card = machine_card(arguments.machine)
    job = Job.create(arguments.file, card, SystemClock(), note=arguments.note, force=arguments.force)
    say(open_points(card))
    _print_next(job)
    return 0


def _next(arguments: argparse.Namespace) -> int:
    job = _open(arguments.file)
    status = job.status()
    name = arguments.step or (status.next_step.name if status.next_step is not None else "")
    if arguments.note:
        job.note(arguments.note, arguments.step or "")
    if arguments.skip is not None:
        _print_judged(job.skip(_step(job, name).name, arguments.skip))
    if arguments.instruments:
        _record(job, _step(job, name), arguments)
    elif arguments.readings:
        _take(job, _step(job, name), arguments.readings, _instrument(arguments.instrument))
    if arguments.repaired is not None:
        job.repaired(arguments.repaired)
    asked = arguments.readings or arguments.instruments or arguments.note
    if arguments.step and not asked and arguments.skip is None:
        _print_step(job, job.step_named(name))
    else:
        _print_next(job)
    return 0


def _step(job: Job, name: str) -> Step:
    """The test that is meant.

    Raises:
        UsageError: it isn't named, and none is left to be done; or there is none of that name.
    """
    from daq.errors import UsageError
    from daq.job.sheet.steps import AFTER_REPAIR

    if name in {"", AFTER_REPAIR}:
        raise UsageError(
            "All tests are done. --step TEST does one again; after a repair say first what was done: "
            '--repaired "what was done".'
        )
    return job.step_named(name)


def _instrument(name: str | None) -> InstrumentCard | None:
    if name is None:
        return None
    from daq.catalog import instrument_card
    from daq.registry import load_registry

    return instrument_card(name, load_registry())


def _record(job: Job, step: Step, arguments: argparse.Namespace) -> None:
    """Record the next reading of a test with one's instruments, and judge it."""
    from tui import jobrecord

    instruments = jobrecord.at_hand(arguments.instruments)
    with job.held():
        plan = _plan(job, step, arguments.readings, instruments)
        chosen = jobrecord.instruments_for(plan, instruments)
        cards = [card for card, _ in chosen]
        say(jobrecord.plan_lines(plan, cards, job.status().sheet.cautions_of(step)))
        jobrecord.wait_until_ready()
        _print_judged(jobrecord.record_and_take(job, plan, chosen, arguments.seconds))


def _plan(
    job: Job, step: Step, names: Sequence[str], instruments: Sequence[tuple[InstrumentCard, str]]
) -> RecordingPlan:
    """What to record.

    Raises:
        UsageError: none of the instruments reads it; says which cards do.
    """
    from daq.errors import UsageError
    from daq.job.plan import plan_recording
    from tui.jobrecord import no_instrument_reads, readable

    if len(names) > 1 or any("=" in name or name.endswith(".jsonl") for name in names):
        raise UsageError("With -i one reading is recorded: give its name alone, or none for the next one.")
    wanted = job.slot_named(step, names[0]) if names else None
    plan = plan_recording(job.status().step(step.name), readable(instruments), wanted)
    if not plan.fits(readable(instruments)):
        raise UsageError(no_instrument_reads(plan))
    return plan


def _take(job: Job, step: Step, readings: Sequence[str], instrument: InstrumentCard | None) -> None:
    """Take all readings of one call; what was taken before one that can't be is on the disk already."""
    from tui.progress import progress

    named = _named(job, step, readings)
    if instrument is not None:
        _check_reads(job, step, [name for name, value in named if not value.endswith(".jsonl")], instrument)
    for name, value in named:
        if value.endswith(".jsonl"):
            with progress(f"reading {Path(value).name}") as bar:
                job.attach_recording(step.name, value, [name] if name else (), bar)
        else:
            job.type_reading(step.name, name, value, instrument)
    _print_judged(job.status().step(step.name))


def _check_reads(job: Job, step: Step, names: Sequence[str], instrument: InstrumentCard) -> None:
    """An instrument reads at least one of the readings that it is said to have been read off.

    Raises:
        UsageError: it reads none of them.
    """
    from daq.errors import UsageError

    asked = {job.slot_named(step, name).quantity for name in names} - {None}
    there = {channel.quantity for channel in instrument.channel}
    if asked and there and not asked & there:
        wanted = " and ".join(sorted(each.value.replace("_", " ") for each in asked if each is not None))
        reads = ", ".join(sorted(each.value.replace("_", " ") for each in there))
        raise UsageError(
            f"{instrument.name} reads {reads}, not {wanted}: give the card of the instrument that was read off, or "
            "leave --with out."
        )


def _named(job: Job, step: Step, readings: Sequence[str]) -> list[tuple[str, str]]:
    """(reading, value) for each; "" for a recording that says by itself what it is for.

    Raises:
        UsageError: a value of which it can't be told what it is.
    """
    pairs: list[tuple[str, str]] = []
    bare: list[str] = []
    for each in readings:
        name, equals, value = each.partition("=")
        if equals:
            pairs.append((name.strip(), value.strip()))
        elif each.endswith(".jsonl"):
            pairs.append(("", each))
        else:
            bare.append(each)
    if bare:
        pairs.append((_only_missing(job, step, bare), " ".join(bare)))
    return pairs


def _only_missing(job: Job, step: Step, bare: Sequence[str]) -> str:
    from daq.errors import UsageError

    missing = job.status().step(step.name).missing
    slots = list(missing) or [slot for slot in step.slot if not slot.optional and slot.instead_of is None]
    # A unit may stand apart from its number, and a speed stands beside its volts.
    if len(slots) != 1 or len(bare) > 2:
        names = ", ".join(slot.name for slot in step.slot)
        raise UsageError(
            f"Say which reading {' '.join(bare)!r} is: {step.name} has {names}, as in {slots[0].name}=VALUE."
        )
    return slots[0].name


def _status(arguments: argparse.Namespace) -> int:
    from tui.jobtext import status_lines

    say(status_lines(_open(arguments.file).status()))
    return 0


def _report(arguments: argparse.Namespace) -> int:
    import msgspec

    from daq.job.summary import summarise
    from daq.model.clock import SystemClock
    from tui.commands import report
    from tui.escapes import json_escapes
    from tui.jobtext import summary_lines

    if arguments.to is not None:
        _open(arguments.file)  # what is no job file is told as such
        return report.write([arguments.file], arguments.to, force=arguments.force)
    summary = summarise(_open(arguments.file).status(), SystemClock().utc())
    if arguments.json:
        print(json_escapes(msgspec.json.format(msgspec.json.encode(summary), indent=2).decode()))
        return 0
    say(summary_lines(summary))
    return 0


def _print_next(job: Job) -> None:
    from tui.jobtext import next_lines

    say(next_lines(job.status(), str(job.path)))


def _print_step(job: Job, step: Step) -> None:
    from tui.jobtext import step_lines

    say(step_lines(job.status(), step, str(job.path)))


def _print_judged(step: StepStatus) -> None:
    from tui.jobtext import judged_lines

    say(judged_lines(step))
    print()
