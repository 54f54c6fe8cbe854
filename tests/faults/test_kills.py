"""A capture killed outright loses what was not yet handed over, half a second at most, and nothing else."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.faults.kills import TOLD_WRONG_BY_S, Kill, kill_captures


def test_a_killed_capture_leaves_a_recording_that_all_commands_take(tmp_path: Path) -> None:
    found = kill_captures(tmp_path, times=8, longest_s=0.9, commands_every=4)
    assert [one.missing for one in found] == [0] * 8
    assert [one.refused for one in found] == [()] * 8
    assert max(one.told_wrong_s for one in found) <= TOLD_WRONG_BY_S, found
    assert max(one.lost_s for one in found) <= 0.5


@pytest.mark.parametrize(
    ("told", "missed_s"),
    [
        ("its last line is line 9, at 60.200 s (2026-04-02 09:30:59 UTC).", 1.0),
        ("its last line is line 9, at 57.000 s (2026-04-02 09:30:59 UTC).", 2.0),
        ("its last line is line 9, at 63.000 s (2026-04-02 09:30:59 UTC).", 3.0),
        ("its last line is line 9, at 60.200 s (2026-04-03 09:30:59 UTC).", 86_399.0),
        ("its last line is line 9, at 60.200 s.", float("inf")),
    ],
)
def test_how_far_a_sentence_is_from_the_kill_is_seen(told: str, missed_s: float) -> None:
    kill = Kill((9 * 10**9, 10 * 10**9), 69 * 10**9, datetime(2026, 4, 2, 9, 31, tzinfo=UTC))
    assert kill.missed_s(told) == missed_s
