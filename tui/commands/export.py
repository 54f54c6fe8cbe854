"""``spinvolt export``: the aligned rows as CSV, with their metadata."""

from __future__ import annotations

import argparse
from pathlib import Path

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "export"
HELP = "write the aligned rows as CSV"
DESCRIPTION = (
    "Writes the aligned rows of a recording as CSV, and beside it OUT.csv-metadata.json, which tells what the "
    "columns are and how they were made (W3C CSV on the Web)."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("file", type=Path, metavar="FILE", help="the recording")
    parser.add_argument("--to", type=Path, required=True, metavar="OUT.csv", help="where the CSV goes")
    parser.add_argument("--force", action="store_true", help="replace files that are there")


def execute(arguments: argparse.Namespace) -> int:
    """Align the recording and write it."""
    from daq.export.aligned_csv import metadata_path
    from tui.escapes import shown_path
    from tui.written import writing

    files = [arguments.to, metadata_path(arguments.to)]
    said = f"Stopped when all was written: {' and '.join(map(shown_path, files))} are whole."
    return writing(files, lambda: _export(arguments), said)


def _export(arguments: argparse.Namespace) -> int:
    from daq.errors import UsageError
    from daq.export.aligned_csv import export_aligned, metadata_path
    from daq.model.counted import counted
    from daq.output import check_free
    from daq.run.recorded import open_recording
    from tui.escapes import shown_path
    from tui.progress import progress

    for target in (arguments.to, metadata_path(arguments.to)):
        if _same_file(target, arguments.file):
            raise UsageError(f"{target.name} is the recording itself; give the CSV another name.")
        check_free(target, force=arguments.force)
    reading = f"reading {arguments.file.name}"
    with progress(reading) as bar:
        run = open_recording(arguments.file, bar.stage(reading, 0.0, 0.3))
        run.analysis(progress=bar.stage("working out", 0.3, 0.6))
        frame = run.aligned()
        writing = bar.stage(f"writing {arguments.to.name}", 0.6, 1.0)
        export_aligned(frame, arguments.to, run.how_made(), force=arguments.force, progress=writing)
    rows = counted(len(frame), "row")
    described = shown_path(metadata_path(arguments.to))
    said = [f"{rows} in {shown_path(arguments.to)}, described in {described}.", *run.recording.problems]
    print(" ".join(said))
    return 0


def _same_file(one: Path, other: Path) -> bool:
    """Whether both names lead to one file that is there, by links too."""
    try:
        return one.samefile(other)
    except OSError:
        return False
