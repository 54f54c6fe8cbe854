"""A real log of mains volts goes through import and export (CHECKS D7: real data in a package, VERIFIED there).

Source, licence and digest stand in ``data/mains_rms_interruption.origin.txt``.
"""

from __future__ import annotations

import csv
import hashlib
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import daq
from daq.importing.csv_log import LogItem, import_logs
from daq.model.quantity import Quantity
from tests.outside.published import held_against

LOG = Path(__file__).parent / "data" / "mains_rms_interruption.csv"
SHA256 = "1cdb203dc05226fc3eb1327a72abb323fe6056097da89d412ca133477d1f3658"


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    out = tmp_path / "mains.jsonl"
    import_logs(out, [LogItem(Quantity.AC_VOLTAGE, LOG)], None, force=False)
    return out


def _source() -> list[tuple[int, float]]:
    with LOG.open(newline="") as file:
        return [(int(row["Time"]), float(row["U1_1p_rms"])) for row in csv.DictReader(file)]


@held_against("D7")
def test_the_log_is_the_published_one() -> None:
    assert hashlib.sha256(LOG.read_bytes()).hexdigest() == SHA256
    assert len(_source()) == 267


@held_against("D7")
def test_no_reading_is_invented_or_lost(recording: Path) -> None:
    source = _source()
    frame = daq.open_recording(recording).aligned()
    assert frame["voltage_V"].tolist() == [value for _, value in source]
    stamps_ms = (frame["utc"] - pd.Timestamp("1970-01-01", tz="UTC")) / pd.Timedelta(milliseconds=1)
    assert np.allclose(stamps_ms, [t for t, _ in source], atol=1e-3)


@held_against("D7")
def test_the_gap_stays_a_gap_and_the_interruption_shows(recording: Path) -> None:
    frame = daq.open_recording(recording).aligned()
    steps_ms = np.diff(frame["time_s"]) * 1e3
    assert np.count_nonzero(steps_ms > 30.0) == 1
    assert steps_ms.max() == pytest.approx(92.0, abs=0.01)
    assert frame["voltage_V"].min() < 1.0
    assert frame["rated_voltage_V"].isna().all()


def test_a_run_without_speed_states_no_rated_output(recording: Path) -> None:
    result = daq.open_recording(recording).result()
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    assert "There are no speed readings" in result.reasons[0]


def test_the_commands_do_the_same(tmp_path: Path) -> None:
    out, table = tmp_path / "m.jsonl", tmp_path / "m.csv"
    program = [sys.executable, "-m", "tui"]
    subprocess.run([*program, "import", str(out), f"ac_voltage={LOG}"], check=True, capture_output=True)
    subprocess.run([*program, "export", str(out), "--to", str(table)], check=True, capture_output=True)
    with table.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["voltage_V"]) for row in rows] == [value for _, value in _source()]
    assert {row["speed_rpm"] for row in rows} == {""}
