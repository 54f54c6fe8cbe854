"""The bench's command line."""

from __future__ import annotations

import argparse
import math

from .faults import FAULTS
from .kinds import KINDS, build_of, faults_of
from .leads import LEADS
from .model import BenchSetup
from .script import SCRIPTS

__all__ = ["parse_options", "setup_from"]


def parse_options(argv: list[str] | None = None) -> argparse.Namespace:
    """The options; wrong usage ends the process with status 2 and a sentence."""
    parser = argparse.ArgumentParser(
        prog="python -m drivers.bench",
        description="A virtual engine with alternator, multimeter and tachometer, on ports of their own.",
        epilog="Prints one JSON line for each instrument, then runs until ended. "
        'A line on standard input changes something: leads battery, or {"leads": "battery"}; ? lists all.',
    )
    _machine_options(parser)
    _instrument_options(parser)
    _process_options(parser)
    options = parser.parse_args(argv)
    if options.fault not in faults_of(options.alternator):
        kinds = ", ".join(faults_of(options.alternator))
        parser.exit(2, f"A {options.alternator} alternator has no fault {options.fault}; it has: {kinds}.\n")
    return options


def _machine_options(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument_group("the machine").add_argument
    add("--fault", choices=list(FAULTS), default="healthy", help="what is wrong with it")
    add("--alternator", choices=list(KINDS), default="regulated", help="how its output is brought out")
    add("--script", choices=list(SCRIPTS), default="hold", help="what the throttle does")
    add("--seed", type=int, default=1, help="another number, another machine of the same kind")
    add("--hunting", action="store_true", help="the governor hunts widely")
    add("--charge", type=_share, default=0.7, metavar="SHARE", help="the battery's, from 0 to 1")
    add("--stop-at", type=_seconds, metavar="S", help="the engine stops by itself then")


def _instrument_options(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument_group("the instruments").add_argument
    add("--leads", choices=list(LEADS), default="stator", help="what the meter's leads are on")
    add("--false-tach", type=_share, default=0.0, metavar="SHARE", help="of its lines count every mark twice")
    add("--tach-gap", type=_span, metavar="START:LENGTH", help="seconds in which the tach is silent")
    add(
        "--unplug",
        type=_unplug,
        action="append",
        default=[],
        metavar="NAME:S",
        help="meter or tach: goes away",
    )


def _process_options(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument_group("the process").add_argument
    add("--duration", type=_seconds, metavar="S", help="end by itself after so long")
    add("--tcp", action="store_true", help="TCP ports instead of pseudo-terminals")
    add("--truth", metavar="FILE", help="write what is really so there, as JSON (-: standard output)")
    add("--end-with-stdin", action="store_true", help="end when standard input ends")


def setup_from(options: argparse.Namespace) -> BenchSetup:
    """What the options put on the bench."""
    return BenchSetup(
        fault=options.fault,
        script=options.script,
        seed=options.seed,
        hunting=options.hunting,
        leads=options.leads,
        state_of_charge=options.charge,
        false_tach=options.false_tach,
        tach_gap=options.tach_gap,
        stop_at_s=options.stop_at,
        build=build_of(options.alternator),
    )


def _share(text: str) -> float:
    value = float(text)
    if not 0.0 <= value <= 1.0:
        raise argparse.ArgumentTypeError(f"{text} must be from 0 to 1")
    return value


def _seconds(text: str) -> float:
    value = float(text)
    if not 0.0 <= value < math.inf:
        raise argparse.ArgumentTypeError(f"{text} must be a number of seconds from 0 up")
    return value


def _span(text: str) -> tuple[float, float]:
    start, colon, length = text.partition(":")
    if not colon:
        raise argparse.ArgumentTypeError(f"{text!r} must look like 12:3.5 (from, and for how long, in s)")
    return _seconds(start), _seconds(length)


def _unplug(text: str) -> tuple[str, float]:
    name, colon, when = text.partition(":")
    if not colon or name not in {"meter", "tach"}:
        raise argparse.ArgumentTypeError(f"{text!r} must look like meter:10 or tach:10")
    return name, _seconds(when)
