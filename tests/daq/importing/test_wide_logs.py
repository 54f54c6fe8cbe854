"""Logs with very many columns, and logs for which the disk has no room: told as it is, nothing left over."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest

from daq.errors import ImportLogError, OutputError
from daq.importing import csv_text
from daq.importing.csv_log import LogItem, import_logs
from daq.model.quantity import Quantity
from daq.recording.reader import read_recording
from tests.faults.drives import WHY_NOT, may_mount, small_drive

VOLTS = Quantity.AC_VOLTAGE


def taken(path: Path, column: str | None = None) -> list[float]:
    out = path.with_suffix(".jsonl")
    import_logs(out, [LogItem(VOLTS, path, column)], None, force=True)
    return [float(value) for value in read_recording(out).columns(0).value]


def test_every_column_of_a_wide_log_counts(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    names = ",".join(f"c{n}" for n in range(1, 200_001))
    cells = ",".join("19.5" for _ in range(199_999))
    path.write_text(f"\n \ntime,{names}\n0,{cells},20.5\n1,{cells},21.5\n", "utf-8")
    assert taken(path, "c200000") == [20.5, 21.5]
    assert taken(path) == [19.5, 19.5]


def test_a_cell_that_is_longer_than_any_is_told_as_that(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    path.write_text(f"time,{'v' * 140_000}\n0,1\n", "utf-8")
    with pytest.raises(ImportLogError, match="it can't be split into columns"):
        taken(path)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("t,U [mV]\n0,{}\n", "line 2: '1{39}…' has 5000 letters, more than any number needs"),
        ("t,U [mV]\n0,0.{}\n", "has 5002 letters, more than any number needs"),
        ("t,U\n{},1\n", "line 2: '1{39}…' has 5000 letters, more than any number needs"),
    ],
)
def test_a_number_of_thousands_of_digits_is_none(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "long.csv"
    path.write_text(text.format("1" * 5000), "utf-8")
    with pytest.raises(ImportLogError, match=told):
        taken(path)


def test_a_row_that_is_wider_than_its_header_is_told_with_both_widths(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    path.write_text(f"time{',v' * 40_000}\n0{',1' * 40_001}\n", "utf-8")
    with pytest.raises(ImportLogError, match="line 2: it has 40002 columns, the header has 40001"):
        taken(path)


def test_a_header_that_is_longer_than_any_is_told_as_that(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    path.write_text(f"\ntime,{'v,' * (csv_text._LONGEST_HEADER // 2)}v\n0,1\n", "utf-8")
    with pytest.raises(
        ImportLogError, match="line 2: its header is longer than 4 MB; export fewer columns"
    ) as told:
        taken(path)
    assert told.value.line == 2


@pytest.mark.skipif(not may_mount(), reason=WHY_NOT)
def test_a_full_disk_is_told_of_a_file_that_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("t,v\n" + "".join(f"{i},20.5\n" for i in range(5000)), "utf-8")
    with small_drive(tmp_path, 64) as place:
        for room in (48 * 1024, 0):
            with (place / "filler").open("wb", buffering=0) as filler, contextlib.suppress(OSError):
                while place.joinpath("filler").stat().st_size < 64 * 1024 - room:
                    filler.write(b"x" * 512)
            with pytest.raises(OutputError) as told:
                import_logs(place / "new.jsonl", [LogItem(VOLTS, path)], None, force=False)
            assert str(told.value) == "The disk is full: new.jsonl was not written. Make room and try again."
            assert [each.name for each in place.iterdir()] == ["filler"]
