"""The files of the fuzzing: a long run has new ones, and can be repeated."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.faults.fuzz import chosen_seed, hurt_file
from tests.faults.strangers import KINDS


def test_long_runs_draw_by_the_clock_and_short_ones_always_the_same() -> None:
    assert chosen_seed(None, long=True, now_s=1_790_000_000) == 1_790_000_000
    assert chosen_seed(None, long=False, now_s=1_790_000_000) == 0
    assert {chosen_seed(17, long=long, now_s=1_790_000_000) for long in (True, False)} == {17}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_run_a_second_later_has_other_files_at_every_place(kind: str) -> None:
    first, again, later = ([hurt_file(kind, seed, n) for n in range(20)] for seed in (5, 5, 6))
    assert first == again
    assert sum(one == other for one, other in zip(first, later, strict=True)) <= 2, "chance alone"
    assert sum(one == other for one, other in zip(first[1:], later, strict=False)) <= 2, "nor moved on by one"


def test_the_same_files_are_drawn_in_another_process() -> None:
    code = "from tests.faults.fuzz import hurt_file; print(hurt_file('recording', 5, 3).hex())"
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env={"PYTHONHASHSEED": "7"}
    )
    assert told.stdout.strip() == hurt_file("recording", 5, 3).hex()
