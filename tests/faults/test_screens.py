"""Whatever becomes of the dashboard, the readings are there and the recording is closed properly."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.screens import close_window, stall_suspend_kill
from tui.dashboard.feed import rest_s

MOST_STAMP_SHIFT_MS = 7.5
"""Of the quietest phase's median over a bare reader's: a busy machine delays both, and stamps that are rounded to 30 ms
are 15 ms off in the median of every phase."""


def test_a_dashboard_not_read_then_suspended_then_killed_costs_no_reading(tmp_path: Path) -> None:
    found = stall_suspend_kill(tmp_path, quiet_s=0.5, stalled_s=2.0)
    assert (found.lost, found.unseen) == (0, 0)
    assert "has gone" in found.reason
    assert "rpm" in found.watched
    assert "The run goes on" in found.watched
    assert found.stamp_shift_ms < MOST_STAMP_SHIFT_MS, (found.late_ms, found.bare_ms)


@pytest.mark.parametrize("own", [True, False], ids=["told by a signal", "not told"])
def test_a_terminal_that_goes_away_costs_no_reading(tmp_path: Path, *, own: bool) -> None:
    found = close_window(tmp_path, own=own)
    assert (found.lost, found.unseen) == (0, 0)
    assert "has gone" in found.reason


def test_a_screen_that_was_suspended_in_mid_update_is_fresh_again_in_seconds() -> None:
    """With a pause as long as the update seemed to take, an hour's sleep cost another hour."""
    assert rest_s(3600.0) == 2.0
    assert rest_s(0.3) == 0.3
    assert 0.0 < rest_s(0.0) <= 0.1
