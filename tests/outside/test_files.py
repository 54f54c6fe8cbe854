"""Files that go in and out, held against their open standards (CHECKS.md, section 13).

The lexical rules are written here from the standards, not taken from the code under test.

T1, T2: RFC 4180 (VERIFIED; that spaces are data: MEMORY). T3: W3C CSVW test suite, validation tests 164
to 167 (VERIFIED). T4: the same suite, 126 (a required cell), 190 and 246 (date and time). T5: OWASP, "CSV
Injection" (VERIFIED). T6: jsonlines text; RFC 8259, section 6 (MEMORY). T7: RFC 3339, 5.8 (MEMORY).
"""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import daq
from daq.errors import ImportLogError
from daq.export.aligned_csv import export_aligned, metadata_path
from daq.importing.csv_log import LogItem, import_logs
from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading
from daq.recording.entries import Line, MarkEntry
from daq.recording.reader import read_recording
from tests.daq.recording.builders import record
from tests.outside.published import held_against

# W3C XML Schema 1.1 part 2, 3.3.3 (decimal), 3.3.5 (double), 3.4.28 (dateTimeStamp).
XSD = {
    "decimal": re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)"),
    "double": re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?|[+-]?INF|NaN"),
    "dateTimeStamp": re.compile(
        r"-?[1-9]?\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])T([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d+)?"
        r"(Z|[+-](0\d|1[0-4]):[0-5]\d)"
    ),
    "string": re.compile(r"[^\x00]*"),
}


def accepts(datatype: Any, cell: str) -> bool:
    """Whether a cell is of a CSVW datatype (Metadata Vocabulary, 5.11; Model for Tabular Data, 6.4)."""
    if isinstance(datatype, dict):
        assert datatype["base"] == "boolean"
        return cell in datatype["format"].split("|")
    return XSD[datatype].fullmatch(cell) is not None


def taken(folder: Path, text: str, column: str | None = None) -> tuple[list[int], list[float]]:
    """What import makes of a log: nanoseconds and values."""
    (folder / "log.csv").write_bytes(text.encode())
    item = LogItem(Quantity.AC_VOLTAGE, folder / "log.csv", column)
    import_logs(folder / "log.jsonl", [item], None, force=True)
    got = read_recording(folder / "log.jsonl").columns(0)
    return got.t_ns.tolist(), got.value.tolist()


def exported(folder: Path, **columns: Any) -> tuple[list[list[str]], dict[str, Any]]:
    """Rows with those columns beside the usual ones: the CSV, read by the standard library, and its description."""
    n = len(next(iter(columns.values())))
    frame = pd.DataFrame(
        {
            "time_s": np.arange(n) / 8,
            "utc": pd.Timestamp("2026-03-01T08:00:00.123Z") + pd.to_timedelta(np.arange(n), unit="s"),
            "steady": np.ones(n, np.int8),
            **columns,
        }
    )
    export_aligned(frame, folder / "out.csv", {}, force=True)
    text = (folder / "out.csv").read_bytes().decode("utf-8")
    description = json.loads(metadata_path(folder / "out.csv").read_bytes())
    return list(csv.reader(io.StringIO(text, newline=""), strict=True)), description


@held_against("T1")
def test_t1_quoted_commas_line_breaks_and_quotes_are_kept_whole_on_the_way_in(tmp_path: Path) -> None:
    """RFC 4180, 2.6 and 2.7: ``"aaa","b CRLF bb","ccc"`` and ``"aaa","b""bb","ccc"``."""
    text = 'time,note,volts\r\n0,"b \r\nbb",1\r\n1,"b""bb",2\r\n2,"a,b",3\r\n'
    assert taken(tmp_path, text, "volts") == ([0, 10**9, 2 * 10**9], [1.0, 2.0, 3.0])


@pytest.mark.parametrize("text", ["b\r\nbb", 'b"bb', "a,b", ' "', "ä;ö", ""])
@held_against("T1")
def test_t1_and_on_the_way_out(tmp_path: Path, text: str) -> None:
    rows, _ = exported(tmp_path, quality=[text, "good"])
    assert [row[-1] for row in rows] == ["quality", text, "good"]
    raw = (tmp_path / "out.csv").read_bytes()
    assert (b'"' in raw) == any(mark in text for mark in ',"\r\n')


@pytest.mark.parametrize("end", ["", "\r\n", "\n"])
@held_against("T2")
def test_t2_the_last_record_may_lack_its_line_break(tmp_path: Path, end: str) -> None:
    """RFC 4180, 2.2."""
    assert taken(tmp_path, f"time,volts\r\n0,1\r\n1,2{end}") == ([0, 10**9], [1.0, 2.0])


@held_against("T2")
def test_t2_records_end_in_crlf_and_spaces_are_data(tmp_path: Path) -> None:
    """RFC 4180, 2.1 and 2.4."""
    rows, description = exported(tmp_path, quality=[" a ", "b"])
    assert rows[1][-1] == " a "
    raw = (tmp_path / "out.csv").read_bytes()
    assert raw.endswith(b"\r\n")
    assert raw.count(b"\n") == raw.count(b"\r\n") == 3
    assert description["dialect"]["trim"] is False
    assert description["dialect"]["skipInitialSpace"] is False


@held_against("T3")
def test_t3_a_decimal_takes_no_exponent_and_a_double_does() -> None:
    """The rules themselves, on the suite's own cells: 164 to 167."""
    for cell in ("123.456E7", "NaN", "INF"):
        assert not accepts("decimal", cell)
        assert accepts("double", cell)


@held_against("T3")
def test_t3_every_cell_is_of_the_datatype_that_its_column_declares(tmp_path: Path) -> None:
    values = [1e-7, -1.5, 1e22, np.nan, np.inf, 3600.0]
    rows, description = exported(tmp_path, speed_rpm=values, quality=["good"] * 6, temperature_degC=values)
    columns = description["tableSchema"]["columns"]
    assert [column["titles"][0] for column in columns] == rows[0]
    for place, column in enumerate(columns):
        cells = [row[place] for row in rows[1:] if row[place] != column["null"]]
        assert cells
        assert all(accepts(column["datatype"], cell) for cell in cells), column["name"]
    speed = [row[rows[0].index("speed_rpm")] for row in rows[1:]]
    assert speed == ["1e-7", "-1.5", "1e22", "", "", "3600.0"]
    assert not all(accepts("decimal", cell) for cell in speed if cell)


@held_against("T4")
def test_t4_a_required_cell_is_never_null_and_times_keep_their_fraction(tmp_path: Path) -> None:
    rows, description = exported(tmp_path, quality=["good"] * 3)
    required = [i for i, c in enumerate(description["tableSchema"]["columns"]) if c["required"]]
    assert required == [0]
    assert all(row[0] != "" for row in rows)
    assert [row[1] for row in rows[1:]] == [f"2026-03-01T08:00:0{second}.123000Z" for second in range(3)]


@held_against("T4")
def test_t4_the_description_names_its_table_and_its_dialect(tmp_path: Path) -> None:
    """Metadata Vocabulary 5.3 (context, url), 5.6 (names are URI template variables), 5.9 (dialect)."""
    _, description = exported(tmp_path, quality=["good"], temperature_degC=[1.0])
    assert description["@context"][0] == "http://www.w3.org/ns/csvw"
    assert description["url"] == "out.csv"
    names = [column["name"] for column in description["tableSchema"]["columns"]]
    assert all(re.fullmatch(r"[A-Za-z0-9_]+", name) and not name.startswith("_") for name in names)
    assert len(set(names)) == len(names)
    assert description["dialect"]["lineTerminators"] == ["\r\n"]
    assert description["dialect"]["encoding"] == "utf-8"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n"])
@held_against("T5")
def test_t5_no_text_is_taken_for_a_formula_and_a_negative_number_stays_one(
    tmp_path: Path, start: str
) -> None:
    text = f'{start}HYPERLINK("http://x";"y")'
    rows, _ = exported(tmp_path, temperature_degC=[-12.3], quality=[text])
    assert rows[1][-2:] == ["-12.3", "'" + text]
    raw = (tmp_path / "out.csv").read_bytes()
    assert b",-12.3,\"'" in raw


@held_against("T6")
def test_t6_a_recording_is_json_lines(tmp_path: Path) -> None:
    lines: list[Line] = [
        Reading(0, 1000, float("nan")),
        Reading(0, 2000, float("inf")),
        MarkEntry(t_ns=3000, text="ä\n\u2028"),
    ]
    path = record(tmp_path / "run.jsonl", lines)

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    raw = path.read_bytes()
    assert raw.endswith(b"}\n")
    values = [json.loads(line, parse_constant=refuse) for line in raw.decode("utf-8")[:-1].split("\n")]
    # A reading's moment stands in microseconds (recordings/README.md, version 2).
    assert [value for value in values if isinstance(value, list)] == [
        [0, 1, None, Quality.NOT_A_NUMBER],
        [0, 2, None, Quality.NOT_A_NUMBER],
    ]


@held_against("T6")
def test_t6_crlf_is_tolerated(tmp_path: Path) -> None:
    path = record(tmp_path / "run.jsonl", [Reading(0, 1, 20.5), Reading(0, 2, 21.5)], close=False)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    recording = read_recording(path)
    assert recording.columns(0).value.tolist() == [20.5, 21.5]
    assert len(recording.problems) == 1
    assert "cut off" in recording.problems[0]


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520000+00:00"),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57+00:00"),
    ],
)
@held_against("T7")
def test_t7_the_examples_of_rfc_3339(tmp_path: Path, text: str, utc: str) -> None:
    assert taken(tmp_path, f"time,volts\n{text},1\n") == ([0], [1.0])
    assert read_recording(tmp_path / "log.jsonl").start.isoformat() == utc


@held_against("T7")
def test_t7_an_example_from_before_any_log_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ImportLogError, match="line 2: the year 1937 can't be right"):
        taken(tmp_path, "time,volts\n1937-01-01T12:00:27.87+00:20,1\n")


def test_the_hour_of_a_log_that_counts_from_zero_stays_empty(tmp_path: Path) -> None:
    """What isn't known is an empty field (CSVW: the column's null)."""
    taken(tmp_path, "time,volts\n0,20.5\n0.5,20.6\n")
    run = daq.open_recording(tmp_path / "log.jsonl")
    export_aligned(run.aligned(), tmp_path / "out.csv", run.how_made(), force=False)
    assert run.how_made()["started_utc"] is None
    assert run.how_made()["ended_utc"] is None
    with (tmp_path / "out.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["time_s"], row["utc"], row["voltage_V"]) for row in rows] == [
        ("0.0", "", "20.5"),
        ("0.5", "", "20.6"),
    ]
