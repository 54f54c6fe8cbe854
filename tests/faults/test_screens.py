"""Whatever becomes of the dashboard, the readings are there and the recording is closed properly."""

from __future__ import annotations

from pathlib import Path

from tests.faults.screens import close_window, stall_suspend_kill


def test_a_dashboard_not_read_then_suspended_then_killed_costs_no_reading(tmp_path: Path) -> None:
    found = stall_suspend_kill(tmp_path, quiet_s=0.5, stalled_s=2.0)
    assert (found.lost, found.unseen) == (0, 0)
    assert "has gone" in found.reason
    assert "rpm" in found.watched
    assert "The run goes on" in found.watched


def test_a_terminal_that_goes_away_costs_no_reading(tmp_path: Path) -> None:
    found = close_window(tmp_path)
    assert (found.lost, found.unseen) == (0, 0)
    assert "has gone" in found.reason
