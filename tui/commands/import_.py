"""``spinvolt import``: CSV logs that other devices saved become a recording."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from daq.errors import UsageError

if TYPE_CHECKING:
    from daq.importing.csv_log import LogItem

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "import"
HELP = "make a recording from CSV logs that other devices saved"
DESCRIPTION = (
    "Makes a recording from CSV logs. The first column of each is time, in seconds or ISO 8601; the value is in "
    "the second, or in the one named after #. Quantities: ac_voltage, dc_voltage, dc_current, resistance, "
    "frequency, rotational_speed, temperature."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("out", type=Path, metavar="OUT", help="the recording to write")
    parser.add_argument(
        "logs", nargs="+", metavar="QUANTITY=FILE.csv[#COLUMN]", help="a log and what it measures"
    )
    parser.add_argument("--machine", metavar="FILE", help="machine card: its name, or its .toml file")
    parser.add_argument("--force", action="store_true", help="replace the file that is there")


def execute(arguments: argparse.Namespace) -> int:
    """Take the logs in and say what they give."""
    from tui.escapes import shown_path
    from tui.written import writing

    out = shown_path(arguments.out)
    said = f"Stopped before its result was told; the recording is whole: {out}"
    return writing([arguments.out], lambda: _import(arguments), said)


def _import(arguments: argparse.Namespace) -> int:
    from daq.catalog import machine_card
    from daq.importing.csv_log import import_logs
    from daq.run.recorded import open_recording
    from tui.progress import progress
    from tui.resulttext import result_lines

    items = [_item(text) for text in arguments.logs]
    machine = machine_card(arguments.machine) if arguments.machine is not None else None
    with progress("reading the logs") as bar:
        taking = bar.stage("reading the logs", 0.0, 0.4)
        import_logs(arguments.out, items, machine, force=arguments.force, progress=taking)
        run = open_recording(arguments.out, bar.stage(f"reading {arguments.out.name}", 0.4, 0.6))
        result = run.result(progress=bar.stage("working out", 0.6, 1.0))
    print("\n".join(result_lines(result)))
    print(f"Recording: {arguments.out}")
    return 0


def _item(text: str) -> LogItem:
    from daq.importing.csv_log import LogItem
    from daq.model.quantity import Quantity
    from tui.filename import file_path

    name, equals, place = text.partition("=")
    offered = [q for q in Quantity if q not in {Quantity.REVOLUTIONS, Quantity.DEVICE_TIME}]
    found = next((q for q in offered if q.value == name), None)
    if not equals or not place or found is None:
        known = ", ".join(q.value for q in offered)
        raise UsageError(f"{text!r} is no QUANTITY=FILE.csv; the quantities are {known}.")
    file, hash_mark, column = place.rpartition("#")
    if not hash_mark or Path(place).exists():
        file, column = place, ""
    return LogItem(found, file_path(file), column or None)
