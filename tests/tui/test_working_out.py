"""Signals while a replay works out the whole run: it stops at once, as every command that works something out."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import daq.run.recorded
from daq.run.recorded import RecordedRun, work_out
from tests.tui.program import spinvolt_here

SAMPLE = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="sends signals to one process")


@pytest.mark.parametrize("after", [0, 1, 3])
def test_interrupted_at_its_beginning_or_later_it_stops_there(
    after: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    told: list[float] = []

    def interrupted(path: Path, progress: Callable[[float], None]) -> RecordedRun:
        if not after:
            signal.raise_signal(signal.SIGINT)

        def tell(part: float) -> None:
            progress(part)
            told.append(part)
            if len(told) == after:
                signal.raise_signal(signal.SIGINT)

        return work_out(path, tell)

    monkeypatch.setattr(daq.run.recorded, "work_out", interrupted)
    usual = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        ran = spinvolt_here(
            "replay", str(SAMPLE), "--headless", "--rate", "0", folder=tmp_path, capsys=capsys
        )
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, usual)
    assert (ran.status, ran.err) == (1, "Stopped before it was done.\n")
    assert len(told) == after
