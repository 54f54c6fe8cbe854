"""Plugs pulled in mid-line and put back, and an instrument that never pauses: nothing false, nothing untold."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.faults.plugs import flood, replug


@pytest.mark.skipif(sys.platform != "linux", reason="counts the capture's open files in /proc")
def test_plugs_pulled_and_put_back_leave_no_false_value_and_no_file_open(tmp_path: Path) -> None:
    found = replug(tmp_path, times=20, ports=4)
    assert (found.false, found.disorder, found.holes) == (0, 0, 0)
    assert found.told == (20, 20)
    assert found.descriptors[0] == found.descriptors[1]
    assert found.threads[0] == found.threads[1]


def test_an_instrument_that_never_pauses_costs_its_neighbour_nothing(tmp_path: Path) -> None:
    found = flood(tmp_path, seconds=0.5)
    assert found.rate_hz > 1000
    assert (found.disorder, found.untold, found.neighbour_lost) == (0, 0, 0)
