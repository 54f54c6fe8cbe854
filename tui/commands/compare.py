"""``spinvolt compare``: two runs, the change between them, and whether it is significant."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.cards.machine import MachineCard
    from daq.run.recorded import RecordedRun
    from daq.verdict.change import Change

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "compare"
HELP = "two runs, before and after, and whether the change is significant"
DESCRIPTION = "Compares the rated output of two recorded runs, such as before and after a repair."


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("before", type=Path, metavar="BEFORE", help="the first recording")
    parser.add_argument("after", type=Path, metavar="AFTER", help="the second recording")
    parser.add_argument(
        "--machine",
        metavar="CARD",
        help="machine card to judge by, in place of the recording's own: name or file",
    )
    parser.add_argument("--json", action="store_true", help="as JSON")


def execute(arguments: argparse.Namespace) -> int:
    """Open both recordings and tell the change."""
    import msgspec

    from daq.catalog import machine_card
    from daq.run.compared import compare_recorded
    from tui.wrapped import say

    machine = machine_card(arguments.machine) if arguments.machine is not None else None
    before, after = _open(arguments.before, machine), _open(arguments.after, machine)
    change = compare_recorded(before, after)
    if arguments.json:
        print(msgspec.json.format(msgspec.json.encode(change), indent=2).decode())
        return 0
    say([*_lines(change), *_problems("Before", before), *_problems("After", after)])
    return 0


def _open(path: Path, machine: MachineCard | None) -> RecordedRun:
    from daq.run.recorded import open_recording
    from tui.progress import progress

    reading = f"reading {path.name}"
    with progress(reading) as bar:
        run = open_recording(path, bar.stage(reading, 0.0, 0.4), machine=machine)
        run.analysis(progress=bar.stage("working out", 0.4, 1.0))
    return run


def _problems(name: str, run: RecordedRun) -> list[str]:
    from tui.text import clean

    return [f"{name}: {clean(problem, 1000)}" for problem in run.recording.problems]


def _lines(change: Change) -> list[str]:
    from tui.text import clean
    from tui.view.numbers import with_uncertainty

    lines = [f"  - {clean(reason, 1000)}" for reason in change.reasons]
    if change.change_V is not None:
        percent = "" if change.change_percent is None else f" ({change.change_percent:+.1f} %)"
        least = bool(change.before.unknown_errors or change.after.unknown_errors)
        amount = with_uncertainty(change.change_V, change.expanded_uncertainty_V, "V", least=least)
        word = "significant" if change.significant else "not significant"
        lines.insert(0, f"Change: {amount}{percent}, {word}.")
    for name, result in (("Before", change.before), ("After", change.after)):
        value = "no rated output"
        if result.rated_voltage_V is not None:
            least = bool(result.unknown_errors)
            value = with_uncertainty(result.rated_voltage_V, result.expanded_uncertainty_V, "V", least=least)
        lines.append(f"{name}: {value}, {result.verdict.replace('_', ' ')}.")
    return lines
