"""``spinvolt report``: one page on a job or on recordings, to read, to send and to print."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute", "write"]

NAME = "report"
HELP = "one page to print or send: answers, plots, reasons, sources"
DESCRIPTION = (
    "Writes one self-contained HTML page on a job, on recordings, or on both: the answer on top, then the tests with "
    "their plots, the reasons, what was not tested, instruments, cautions, method and digests. It needs no network and "
    "prints on A4 and Letter. Of two recordings the first is taken as before, the second as after."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="recordings, a job file, or both")
    parser.add_argument("--to", type=Path, required=True, metavar="OUT.html", help="where the page goes")
    parser.add_argument("--force", action="store_true", help="replace the file that is there")


def execute(arguments: argparse.Namespace) -> int:
    """Write the page."""
    return write(arguments.files, arguments.to, force=arguments.force)


def write(files: Sequence[Path], target: Path, *, force: bool) -> int:
    """Write a report on the files and say where it is."""
    from tui.escapes import shown_path
    from tui.written import writing

    said = f"Stopped when all was written: {shown_path(target)} is whole."
    return writing([target], lambda: _write(files, target, force=force), said)


def _write(files: Sequence[Path], target: Path, *, force: bool) -> int:
    from daq.model.clock import SystemClock
    from daq.report import write_report
    from tui.progress import progress

    reading = f"reading {files[0].name}" if len(files) == 1 else "reading"
    with progress(reading) as bar:
        size = write_report(
            files,
            target,
            SystemClock(),
            force=force,
            progress=bar.stage(reading, 0.0, 0.2),
            working_out=bar.stage("working out", 0.2, 0.5),
            writing=bar.stage(f"writing {target.name}", 0.5, 1.0),
        )
    print(f"{target}: {max(1, round(size / 1024))} kB, to open in any browser or to print.")
    return 0
