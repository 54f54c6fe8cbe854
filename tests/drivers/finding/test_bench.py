"""Listening at the virtual bench's real ports: its own process there, the finding process here."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from daq.finding import listen

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="the bench's ports are TCP there, tried elsewhere"
)


def test_meter_and_tach_of_the_bench_are_told_apart() -> None:
    command = [sys.executable, "-m", "drivers.bench", "--seed", "3"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as bench:
        assert bench.stdout is not None
        meter, tach = (json.loads(bench.stdout.readline())["address"] for _ in range(2))
        try:
            speaks = listen(tach, seconds=1.6)
            answers = listen(meter, ["scpi-meter", "modbus-meter"], seconds=1.2)
        finally:
            bench.terminate()
    assert {one.card for one in speaks.heard if one.is_good} == {"bench-tach", "text-speed"}
    assert speaks.heard[0].readings >= 2
    (best,) = (one for one in answers.heard if one.is_good)
    assert (best.card, best.asked) == ("scpi-meter", True)
    assert best.examples[0].quantity == "ac_voltage"
