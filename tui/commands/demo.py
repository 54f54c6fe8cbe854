"""``spinvolt demo``: a run on the virtual bench, over its real ports."""

from __future__ import annotations

import argparse

from tui.commands.options import add_bench_options, add_look_options, add_run_options

__all__ = ["DESCRIPTION", "HELP", "HEADLESS_S", "MACHINE", "NAME", "configure", "execute"]

NAME = "demo"
HELP = "see it at work on a virtual engine, without any instrument"
DESCRIPTION = (
    "Starts the virtual bench as a process of its own and records a run from its ports, as `spinvolt run` does "
    "from real instruments. Without a terminal it runs for 40 s and prints the result."
)
MACHINE = "nursery-sprayer"
HEADLESS_S = 40.0
"""How long a demo lasts that nobody can end with a key."""


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_bench_options(parser)
    add_run_options(parser)
    add_look_options(parser)


def execute(arguments: argparse.Namespace) -> int:
    """Start the bench and record a run from it."""
    from tui.benchprocess import BenchProcess
    from tui.commands.bench import bench_command
    from tui.recordrun import record_run, recording_path
    from tui.runspec import make_spec
    from tui.terminal import has_terminal

    headless = arguments.headless or not has_terminal()
    alone = headless and arguments.serve is None
    seconds = HEADLESS_S if arguments.seconds is None and alone else arguments.seconds
    path = recording_path(arguments.out)
    with BenchProcess(bench_command(arguments)) as bench:
        spec = make_spec(
            path,
            bench.instruments,
            machine=MACHINE,
            seconds=seconds,
            force=arguments.force,
            numbered=arguments.out is None,
            source="demo",
        )
        return record_run(spec, headless=headless, plain=arguments.plain, serve=arguments.serve)
