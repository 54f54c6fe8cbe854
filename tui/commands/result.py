"""``spinvolt result``: rated output, uncertainty, lag, verdict and reasons of a recording."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "result"
HELP = "rated output, uncertainty and verdict of a recording"
DESCRIPTION = "Tells the rated output of a recorded run with its uncertainty, its verdict and the reasons."


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("file", type=Path, metavar="FILE", help="the recording")
    parser.add_argument(
        "--machine",
        metavar="CARD",
        help="machine card to judge by, in place of the recording's own: name or file",
    )
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.add_argument("--budget", action="store_true", help="also what the uncertainty is made of")
    parser.add_argument(
        "--rule",
        choices=("guarded", "simple"),
        default="guarded",
        help="guarded: pass and fail only where the uncertainty allows; simple: compare plainly",
    )


def execute(arguments: argparse.Namespace) -> int:
    """Open the recording and tell."""
    import msgspec

    from daq.catalog import machine_card
    from daq.run.recorded import open_recording
    from tui.budgettext import budget_lines, budget_table
    from tui.escapes import json_escapes
    from tui.progress import progress
    from tui.resulttext import result_lines
    from tui.wrapped import say

    machine = machine_card(arguments.machine) if arguments.machine is not None else None
    reading = f"reading {arguments.file.name}"
    with progress(reading) as bar:
        run = open_recording(arguments.file, bar.stage(reading, 0.0, 0.4), machine=machine)
        result = run.result(arguments.rule, bar.stage("working out", 0.4, 1.0))
    if arguments.json:
        fields = msgspec.to_builtins(result)
        if arguments.budget:
            fields["budget"] = budget_table(run.budget())
        print(json_escapes(json.dumps(fields, indent=2, ensure_ascii=False)))
        return 0
    say(result_lines(result))
    for row in budget_lines(run.budget()) if arguments.budget else []:
        print(row)
    return 0
