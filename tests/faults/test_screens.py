"""Whatever becomes of the dashboard, the readings are there and the recording is closed properly."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.faults.screens import Ordeal, close_window, stall_suspend_kill

MOST_STAMP_SHIFT_MS = 2.5
"""Of any phase's median over a bare reader's in the same phase. The median, for the worst stamps of a busy machine come
when it pleases, to either reader. Stamps that are rounded up to the goal's 5 ms are half of that off in it. The worst
ones are held against the goal by ``python -m tests.faults --long screens`` and by
``python -m tests.benchmarks.stamp_shift``."""


def test_stamps_that_are_late_in_one_phase_alone_are_seen() -> None:
    calm, late = (1.0, 2.0, 3.0), (90.0, 190.0, 200.0)
    for phase in ("shown", "terminal not read", "suspended"):
        bare = dict.fromkeys(("shown", "terminal not read", "suspended"), calm)
        found = Ordeal(0, 0, "", bare | {phase: late}, "", (0, 0), bare)
        assert found.stamp_shift_ms == 89.0
        assert found.worst_over_bare_ms(phase) == 197.0


def test_a_dashboard_not_read_then_suspended_then_killed_costs_no_reading(tmp_path: Path) -> None:
    found = stall_suspend_kill(tmp_path, quiet_s=0.5, stalled_s=2.0)
    assert (found.lost, found.unseen) == (0, 0)
    assert "has gone" in found.reason
    shown = re.match(r"\d+:\d\d, (\d+) rpm, (\d+)\.00 V, ", found.watched)
    assert shown, found.watched
    assert int(shown[2]) > found.before_watched[0], "the voltages go on"
    assert int(shown[1]) > found.before_watched[1], "the speeds go on"
    assert "The run goes on" in found.watched
    assert found.stamp_shift_ms < MOST_STAMP_SHIFT_MS, (found.late_ms, found.bare_ms)


@pytest.mark.parametrize("own", [True, False], ids=["told by a signal", "not told"])
def test_a_terminal_that_goes_away_costs_no_reading(tmp_path: Path, *, own: bool) -> None:
    found = close_window(tmp_path, own=own)
    assert (found.lost, found.unseen) == (0, 0)
    assert "has gone" in found.reason
