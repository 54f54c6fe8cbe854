"""Writes the aligned rows as CSV (RFC 4180), with a description beside it (W3C CSV on the Web)."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

from daq.export.csvw import describe
from daq.export.pair import replacing_pair
from daq.output import telling

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["export_aligned", "metadata_path"]

_BLOCK_ROWS = 20_000
"""As quick as larger blocks, and a cell takes some 50 bytes of memory until its block is written."""


def metadata_path(path: str | os.PathLike[str]) -> Path:
    """Where the description of a CSV file lies: W3C's ``{+url}-metadata.json``."""
    target = Path(path)
    return target.with_name(target.name + "-metadata.json")


def export_aligned(
    frame: pd.DataFrame,
    path: str | os.PathLike[str],
    metadata: Mapping[str, object],
    *,
    force: bool,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write the aligned rows and their description; both files appear whole or not at all, as replacing_pair has it.

    Numbers have the fewest digits that give the same float64 back; what isn't
    known is an empty field. Lines end in CRLF.

    Args:
        frame: the rows, as :meth:`daq.run.recorded.RecordedRun.aligned` gives them.
        path: the CSV file.
        metadata: how the rows were made; goes into the description's notes.
        force: replace files that are there.
        progress: called with the part done, from 0 to 1.

    Raises:
        OutputError: a file exists and ``force`` is not given, or it can't be written.
    """
    target = Path(path)
    how_made = {"program": _program(), **metadata}
    description = metadata_path(target)
    with replacing_pair(target, description, force=force) as (csv_draft, description_draft):
        with telling(description):
            description_draft.write_bytes(
                describe(target.name, [str(name) for name in frame.columns], how_made)
            )
        with telling(target):
            _write_rows(frame, csv_draft, progress)


def _write_rows(frame: pd.DataFrame, path: Path, progress: Callable[[float], None] | None) -> None:
    from daq.export.cells import cells, text_cell

    columns = [frame.iloc[:, place] for place in range(frame.shape[1])]
    with path.open("xb", buffering=0) as file:
        file.write(b",".join(text_cell(str(name)) for name in frame.columns) + b"\r\n")
        for start in range(0, len(frame), _BLOCK_ROWS):
            block = [cells(column.iloc[start : start + _BLOCK_ROWS]) for column in columns]
            rows = b"\r\n".join(map(b",".join, zip(*block, strict=True)))
            _write_all(file.write, rows + b"\r\n")
            if progress is not None:
                progress(min(1.0, (start + _BLOCK_ROWS) / len(frame)))


def _write_all(write: Callable[[memoryview], int | None], data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[write(view) or 0 :]


def _program() -> str:
    try:
        return f"spinvolt {version('spinvolt')}"
    except PackageNotFoundError:
        return "spinvolt"
