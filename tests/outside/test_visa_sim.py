"""A meter simulated by pyvisa-sim, which is nothing of this project's, drives the real capture over a terminal."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.spec import CaptureSpec, InstrumentSpec
from daq.finding import Listened
from tests.daq.capture.runs import card, events, eventually, of_channel
from tests.drivers.finding.test_listening import given_time

HERE = Path(__file__).parent
GOOD, WRONG_FUNCTION = 0, 5

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")


@contextlib.contextmanager
def simulated(*messages: str) -> Iterator[str]:
    """Start the simulation; gives its port."""
    command = [sys.executable, str(HERE / "visa_sim_port.py"), str(HERE / "data" / "visa_sim_meter.yaml")]
    with subprocess.Popen([*command, *messages], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline().strip()
        finally:
            process.kill()


def read_card(**settings: Any) -> dict[str, Any]:
    fast = {
        "query": "READ?",
        "setup": ["*CLS"],
        "interval_s": 0.02,
        "timeout_s": 1.0,
        "function_query": "FUNC?",
    }
    return card("scpi-meter", settings=fast | settings, silence_s=3.0)


def record(path: Path, address: str, instrument: dict[str, Any], least: int) -> None:
    spec = CaptureSpec(path=str(path), instruments=[InstrumentSpec(instrument, address)])
    with CaptureProcess.start(spec) as capture:
        eventually(lambda: len(of_channel(path, 0)) >= least)
        capture.stop()
        capture.wait(30)


def test_it_is_read_and_its_function_read_back(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with simulated() as port:
        record(path, port, read_card(), 20)
    assert {(value, quality) for _, _, value, quality in of_channel(path, 0)} == {(19.62, GOOD)}
    told = [event["text"] for event in events(path, "note")]
    assert "The instrument identifies itself as NURSERY,SIMULATED METER,0,1." in told
    assert "The instrument is set to AC volts." in told


def test_on_ohms_every_reading_is_flagged(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with simulated("FUNC RES") as port:
        record(path, port, read_card(), 10)
    assert {quality for _, _, _, quality in of_channel(path, 0)} == {WRONG_FUNCTION}
    assert any("turn it to AC volts" in event["text"] for event in events(path, "note"))


def test_a_query_that_it_refuses_is_not_put_again_and_costs_no_reading(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with simulated() as port:
        record(path, port, read_card(range_query="VOLT:AC:RANG?", check_every_s=0.2), 60)
    assert {quality for _, _, _, quality in of_channel(path, 0)} == {GOOD}
    refused = [
        event["text"] for event in events(path, "note") if "does not answer VOLT:AC:RANG?" in event["text"]
    ]
    assert len(refused) == 1


def _has_spoken(result: Listened) -> bool:
    return sum(tried.bytes_received for tried in result.tried) > 20


def test_listening_finds_it() -> None:
    with simulated() as port:
        result = given_time(port, ["scpi-meter"], 0.5, came=_has_spoken)
    assert any("asked with scpi-meter" in tried.line for tried in result.tried)
    assert result.heard == (), "it does not know MEAS:VOLT:AC?, so the card as it is does not fit"
    assert _has_spoken(result), "but it has said who it is"
