from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import textwrap
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.errors import OutputError
from daq.export.aligned_csv import export_aligned, metadata_path
from daq.export.cells import cells, text_cell
from daq.export.csvw import known_columns


def frame(rows: int = 4) -> pd.DataFrame:
    """Aligned rows as a run gives them, with one further channel."""
    t = np.arange(rows) * 0.25
    return pd.DataFrame(
        {
            "time_s": t,
            "utc": pd.Timestamp("2026-03-01T08:00:00Z") + pd.to_timedelta(t, unit="s"),
            "speed_rpm": 3600 + t / 3,
            "voltage_V": np.where(t == 0.5, np.nan, 20.5),
            "rated_voltage_V": np.where(t == 0.5, np.nan, 20.5 + t / 7),
            "u_rated_voltage_V": 0.0123,
            "steady": np.ones(rows, np.int8),
            "in_window": np.zeros(rows, np.int8),
            "quality": np.where(t == 0.5, "overload", "good"),
            "temperature_degC": -1.5,
        }
    )


def read(path: Path) -> list[list[str]]:
    """The rows as the standard library reads them."""
    return list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8"), newline="")))


def test_the_columns_stand_in_the_order_that_scripts_rely_on(tmp_path: Path) -> None:
    export_aligned(frame(), tmp_path / "out.csv", {}, force=False)
    header, *rows = read(tmp_path / "out.csv")
    assert header == [
        *("time_s", "utc", "speed_rpm", "voltage_V", "rated_voltage_V", "u_rated_voltage_V"),
        *("steady", "in_window", "quality", "temperature_degC"),
    ]
    assert list(known_columns()) == header[:-1]
    assert rows[1] == [
        *("0.25", "2026-03-01T08:00:00.250000Z", "3600.0833333333335", "20.5", "20.535714285714285"),
        *("0.0123", "1", "0", "good", "-1.5"),
    ]
    assert rows[2][3:5] == ["", ""]
    assert len(rows) == 4
    assert (tmp_path / "out.csv").read_bytes().count(b"\r\n") == 5


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(), min_size=1, max_size=60))
def test_every_float64_comes_back_bit_for_bit_and_the_rest_is_empty(values: list[float]) -> None:
    written = cells(pd.Series(values, dtype="float64"))
    for value, cell in zip(values, written, strict=True):
        if np.isfinite(value):
            assert float(cell).hex() == value.hex()
        else:
            assert cell == b""


def test_two_hundred_thousand_random_doubles_come_back() -> None:
    bits = np.random.default_rng(5).integers(0, 2**64, 200_000, dtype=np.uint64, endpoint=False)
    values = bits.view(np.float64)
    values = values[np.isfinite(values)]
    assert len(values) > 199_000
    assert np.array_equal(np.array(cells(pd.Series(values))).astype(np.float64), values)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.datetimes(min_value=datetime(1971, 1, 1), max_value=datetime(2199, 1, 1)), max_size=20))
def test_times_are_utc_to_the_microsecond(moments: list[datetime]) -> None:
    series = pd.Series(pd.to_datetime(moments, utc=True))
    expected = [moment.strftime("%Y-%m-%dT%H:%M:%S.%fZ").encode() for moment in series]
    assert cells(series) == expected
    assert cells(series.dt.tz_convert("Asia/Kolkata")) == expected
    assert cells(series.dt.tz_localize(None)) == expected


def test_an_unknown_time_or_word_is_an_empty_cell() -> None:
    assert cells(pd.Series([pd.NaT, pd.Timestamp("2026-01-01", tz="UTC")])) == [
        b"",
        b"2026-01-01T00:00:00.000000Z",
    ]
    assert cells(pd.Series(["good", None, "good"])) == [b"good", b"", b"good"]
    assert cells(pd.Series([1, None, 0], dtype="Int8")) == [b"1", b"", b"0"]
    assert cells(pd.Series([True, None, False], dtype="boolean")) == [b"1", b"", b"0"]
    assert cells(pd.Series([True, False])) == [b"1", b"0"]
    assert cells(pd.Series([1.5, None, -2e-9], dtype="Float64")) == [b"1.5", b"", b"-2e-9"]
    assert cells(pd.Series([], dtype="float64")) == []


def test_the_description_says_what_the_columns_are_and_how_they_were_made(tmp_path: Path) -> None:
    how = {"recording": "run\x1b.jsonl", "lag_s": 0.2, "alignment": {"longest_bridged_gap_s": 1.5}}
    export_aligned(frame(), tmp_path / "out.csv", how, force=False)
    assert metadata_path(tmp_path / "out.csv") == tmp_path / "out.csv-metadata.json"
    document = json.loads((tmp_path / "out.csv-metadata.json").read_text(encoding="utf-8"))
    assert document["url"] == "out.csv"
    (notes,) = document["notes"]
    assert notes["program"].startswith("spinvolt")
    assert notes["recording"] == "run�.jsonl"
    assert (notes["lag_s"], notes["alignment"]) == (0.2, {"longest_bridged_gap_s": 1.5})
    further = document["tableSchema"]["columns"][-1]
    assert (further["name"], further["titles"][1], further["schema:unitText"]) == (
        "temperature_degC",
        "Temperature",
        "degC",
    )


def test_files_that_are_there_are_left_alone_without_force(tmp_path: Path) -> None:
    out, description = tmp_path / "out.csv", tmp_path / "out.csv-metadata.json"
    description.write_text("mine")
    with pytest.raises(OutputError, match=r"out\.csv-metadata\.json exists already; add --force"):
        export_aligned(frame(), out, {}, force=False)
    assert os.listdir(tmp_path) == [description.name]
    export_aligned(frame(), out, {}, force=True)
    with pytest.raises(OutputError, match=r"out\.csv exists already; add --force"):
        export_aligned(frame(), out, {}, force=False)


def test_progress_rises_to_the_whole(tmp_path: Path) -> None:
    seen: list[float] = []
    export_aligned(frame(50_001), tmp_path / "out.csv", {}, force=False, progress=seen.append)
    assert seen == sorted(seen)
    assert len(seen) == 3
    assert seen[-1] == 1.0
    assert len(read(tmp_path / "out.csv")) == 50_002
    export_aligned(frame(0), tmp_path / "none.csv", {}, force=False, progress=seen.append)
    assert len(read(tmp_path / "none.csv")) == 1


LONG = """
    import sys
    from pathlib import Path
    import signal
    from tests.daq.export.test_aligned_csv import frame
    from daq.export.aligned_csv import export_aligned
    signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever runs the tests may ignore it
    try:
        export_aligned(frame(600_000), Path(sys.argv[1]), {}, force=True,
                       progress=lambda done: (print(done, flush=True), sys.stdin.read()))
    except KeyboardInterrupt:
        print("interrupted")
"""


def test_ctrl_c_leaves_nothing_half_written(tmp_path: Path) -> None:
    """A real signal to a real process that is in the middle of writing."""
    target = tmp_path / "out.csv"
    target.write_text("old")
    with subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(LONG), str(target)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()  # it has begun, and waits for words that never come
        process.send_signal(signal.SIGINT)
        out = process.communicate(timeout=60)[0]
    assert out.endswith("interrupted\n")
    assert target.read_text() == "old"
    assert os.listdir(tmp_path) == ["out.csv"]


def test_a_full_disk_leaves_nothing_half_written(tmp_path: Path) -> None:
    code = """
        import resource, sys
        from pathlib import Path
        from daq.errors import OutputError
        from tests.daq.export.test_aligned_csv import frame
        from daq.export.aligned_csv import export_aligned
        resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, resource.RLIM_INFINITY))
        try:
            export_aligned(frame(100_000), Path(sys.argv[1]), {}, force=False)
        except OutputError as error:
            print(error)
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code), str(tmp_path / "out.csv")],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert done.stdout.startswith("out.csv was not written")
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("good", b"good"),
        ("", b""),
        ("bad frame", b"bad frame"),
        ('say "no", now', b'"say ""no"", now"'),
        ("two\r\nlines", b'"two\r\nlines"'),
        ("=1+1", b'"\'=1+1"'),
        ('=HYPERLINK("x")', b'"\'=HYPERLINK(""x"")"'),
        ("käse", "käse".encode()),
    ],
)
def test_text_is_quoted_where_it_must_be_and_can_not_run(text: str, cell: bytes) -> None:
    assert text_cell(text) == cell
