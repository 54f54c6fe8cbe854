"""Options that several commands share."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tui.serve.address import ServeAddress

__all__ = ["FAULTS", "SCRIPTS", "add_bench_options", "add_look_options", "add_run_options", "seconds"]

FAULTS = (
    "healthy",
    "open_winding",
    "intermittent_joint",
    "weak_magnets",
    "shorted_turns",
    "grounded_stator",
    "dead_regulator",
    "open_diode",
    "low_governed_speed",
    "overloaded",
    "bad_connector",
    "blown_fuse",
    "worn_battery",
)
SCRIPTS = ("hold", "sweep", "steps")


def seconds(text: str) -> float:
    """A length of time in seconds, above 0."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 < value <= 30 * 86_400:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of seconds above 0")
    return value


def add_bench_options(parser: argparse.ArgumentParser) -> None:
    """What the virtual bench can be told."""
    parser.add_argument("--fault", choices=FAULTS, default="healthy", help="what is wrong with the machine")
    parser.add_argument("--script", choices=SCRIPTS, default=None, help="what the throttle does")
    parser.add_argument(
        "--seed", type=int, default=1, metavar="N", help="another number, another machine of the same kind"
    )


def add_run_options(parser: argparse.ArgumentParser) -> None:
    """How long a run lasts and where its recording goes."""
    parser.add_argument("--seconds", type=seconds, metavar="S", help="end the run after so long")
    parser.add_argument("--out", type=Path, metavar="FILE", help="where the recording goes")
    parser.add_argument("--force", action="store_true", help="replace the file that is there")


def add_look_options(parser: argparse.ArgumentParser) -> None:
    """How the run is shown."""
    parser.add_argument(
        "--headless", action="store_true", help="no dashboard: a line each second and the result"
    )
    parser.add_argument("--plain", action="store_true", help="draw the dashboard with ASCII characters only")
    parser.add_argument(
        "--serve",
        nargs="?",
        type=_serve_address,
        const="127.0.0.1",
        metavar="ADDRESS[:PORT]",
        help="show the dashboard in browsers, such as a phone's; without an address on this computer alone, "
        "with one for whoever has the link, whose key works once",
    )


def _serve_address(text: str) -> ServeAddress:
    from daq.errors import UsageError
    from tui.serve.address import parse_address

    try:
        return parse_address(text)
    except UsageError as error:
        raise argparse.ArgumentTypeError(str(error).rstrip(".")) from error
