"""``spinvolt bench``: the virtual bench alone."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys

from tui.commands.options import add_bench_options

__all__ = ["ALTERNATORS", "DESCRIPTION", "HELP", "NAME", "bench_command", "configure", "execute"]

ALTERNATORS = ("regulated", "dc_only", "split", "ac_only")

NAME = "bench"
HELP = "a virtual engine with meter and tach, for practice"
DESCRIPTION = (
    "Starts a virtual engine with alternator, multimeter and tachometer on ports of their own, prints one "
    'JSON line for each instrument, {"card": ..., "address": ...}, and runs until it is ended. Lines typed to it '
    "move the leads and the throttle, as in: leads battery; engine idle. A line with ? alone lists all of them."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_bench_options(parser)
    parser.add_argument(
        "--alternator",
        choices=ALTERNATORS,
        default="regulated",
        help="how its output is brought out; each goes with the machine card of its class",
    )


def bench_command(arguments: argparse.Namespace) -> list[str]:
    """The command that starts the bench as a process of its own."""
    command = [sys.executable, "-P", "-m", "drivers.bench", "--fault", arguments.fault]
    if arguments.script is not None:
        command += ["--script", arguments.script]
    alternator = getattr(arguments, "alternator", ALTERNATORS[0])  # the demo has none to choose
    return [*command, "--seed", str(arguments.seed), "--alternator", alternator]


def execute(arguments: argparse.Namespace) -> int:
    """Become the bench, so that signals reach it; where that can't be, start it and wait."""
    command = bench_command(arguments)
    if os.name == "posix":
        os.execv(command[0], command)
    return subprocess.run(command, check=False).returncode
