"""Plugs pulled in mid-line and put back under any name, and one that never pauses: nothing false or untold."""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path

import pytest

from daq.capture.launch import CaptureProcess
from tests.daq.capture.runs import spec
from tests.faults import capture_child
from tests.faults.adapters import Adapter
from tests.faults.plugs import CLOSED_WITHIN_S, MOST_GROWN_MB, REOPENED_WITHIN_S, flood, replug
from tests.faults.rig import wait_until
from tests.faults.soak import soak
from tests.faults.soak_judge import Judge

on_linux = pytest.mark.skipif(sys.platform != "linux", reason="counts the capture's open files in /proc")


@on_linux
def test_plugs_pulled_and_put_back_leave_no_false_value_and_no_file_open(tmp_path: Path) -> None:
    found = replug(tmp_path, times=12, ports=4)
    assert (found.false, found.doubled, found.missing, found.faults) == (0, 0, 0, [])
    assert found.readings > 300
    assert found.told == (12, 12)
    assert found.descriptors[0] == found.descriptors[1]
    assert found.threads[0] == found.threads[1]
    assert found.grown_mb <= MOST_GROWN_MB
    assert found.reopened_s <= REOPENED_WITHIN_S


def test_an_instrument_that_never_pauses_costs_its_neighbour_nothing(tmp_path: Path) -> None:
    found = flood(tmp_path, seconds=0.5)
    assert found.rate_hz > 1000
    assert (found.disorder, found.untold, found.neighbour_lost) == (0, 0, 0)
    assert found.closed_after_s <= 2 * CLOSED_WITHIN_S  # a busy machine closes late


@on_linux
def test_a_short_soak_finds_no_false_value_and_no_hole_that_is_not_told(tmp_path: Path) -> None:
    found = soak(tmp_path, 2.0, pause_s=0.2)
    replugs = found.done["same name"] + found.done["other name"]
    assert (found.false, found.doubled, found.missing, found.faults) == (0, 0, 0, [])
    assert replugs > 0
    assert found.told == (replugs, replugs)
    assert found.rows[0] == found.rows[1] >= found.readings > 100
    assert found.held[0][:2] == found.held[1][:2]


def test_two_adapters_that_return_under_each_others_names_are_each_read_on(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    for name in ("dev", "usb"):
        (tmp_path / name).mkdir()
    with contextlib.ExitStack() as stack:
        adapters = [stack.enter_context(Adapter(tmp_path, owner)) for owner in (0, 1)]
        wanted = spec(path, *(("text-volts", str(tmp_path / "dev" / a.name)) for a in adapters))
        stack.enter_context(CaptureProcess.start(wanted, command=capture_child.command(tmp_path)))
        judge = Judge(path, adapters)
        wait_until(lambda: judge.look() and all(map(judge.back_for_good, (0, 1))), "the first readings")
        for adapter in adapters:
            adapter.pull(drain=True)
        adapters[0].plug_in("ttyUSB1")
        adapters[1].plug_in("ttyUSB0")
        wait_until(lambda: judge.look() and all(map(judge.back_for_good, (0, 1))), "both are back")
        wait_until(lambda: judge.look() and judge.events["renamed"] == 2, "it is told")
    assert (judge.false, judge.doubled, judge.missing) == (0, 0, 0)
    assert (judge.events["link_lost"], judge.events["connected"]) == (2, 2)
