"""``spinvolt run``: live capture from one's own instruments."""

from __future__ import annotations

import argparse

from tui.commands.options import add_look_options, add_run_options

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "run"
HELP = "record a run with your own instruments"
DESCRIPTION = (
    "Records a run and shows it. An instrument is CARD@ADDRESS, such as scpi-meter@/dev/ttyUSB0; `spinvolt cards` "
    "lists the cards. Mind the cautions in README: moving parts, exhaust gas, hot metal, battery gas, laser light."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument(
        "-i",
        "--instrument",
        action="append",
        metavar="CARD@ADDRESS",
        help="an instrument; give it again for each further one; without any the dashboard looks for them",
    )
    parser.add_argument("--machine", metavar="FILE", help="machine card: its name, or its .toml file")
    add_run_options(parser)
    add_look_options(parser)


def execute(arguments: argparse.Namespace) -> int:
    """Record the run; where no instrument is named, the dashboard finds them first.

    Raises:
        UsageError: no instrument is named, and there is no terminal to look for them on.
    """
    if arguments.instrument is None:
        return _connect(arguments)
    from tui.recordrun import record_run, recording_path
    from tui.runspec import make_spec, split_instrument
    from tui.terminal import has_terminal

    instruments = [split_instrument(text) for text in arguments.instrument]
    spec = make_spec(
        recording_path(arguments.out),
        instruments,
        machine=arguments.machine,
        seconds=arguments.seconds,
        force=arguments.force,
        numbered=arguments.out is None,
        source="run",
    )
    return record_run(
        spec, headless=arguments.headless or not has_terminal(), plain=arguments.plain, serve=arguments.serve
    )


def _connect(arguments: argparse.Namespace) -> int:
    """Find instruments on the dashboard and run with them; the results are told at the end."""
    from daq.errors import UsageError
    from tui.terminal import has_terminal

    if arguments.headless or arguments.serve is not None or not has_terminal():
        raise UsageError(
            "The following arguments are required: -i/--instrument, as CARD@ADDRESS. On a terminal `spinvolt run` "
            "alone looks for instruments; elsewhere `spinvolt ports` lists them."
        )
    from tui.connecting import RunOptions
    from tui.dashboard.connect_screen import ConnectScreen
    from tui.following import show_screen

    options = RunOptions(
        machine=arguments.machine or "",
        out=arguments.out,
        seconds=arguments.seconds,
        force=arguments.force,
    )
    show_screen(ConnectScreen(options), plain=arguments.plain)
    return 0
