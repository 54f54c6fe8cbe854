"""A capture killed outright loses what was not yet handed over, half a second at most, and nothing else."""

from __future__ import annotations

from pathlib import Path

from tests.faults.kills import kill_captures, says_when


def test_a_killed_capture_leaves_a_recording_that_all_commands_take(tmp_path: Path) -> None:
    found = kill_captures(tmp_path, times=8, longest_s=0.9, commands_every=4)
    assert [one.missing for one in found] == [0] * 8
    assert [one.refused for one in found] == [()] * 8
    assert all(says_when(one.told) for one in found), found
    assert max(one.lost_s for one in found) <= 0.5
