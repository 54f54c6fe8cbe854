"""Rows that depart on a sweep: which of the two instruments jumped is not said where it can't be known."""

from __future__ import annotations

import numpy as np

from daq.run.analysis import analyse
from daq.verdict.result import Result
from tests.daq.run.builders import K, engine, times
from tests.runs import machine_of, run_of

SPEED_T, VOLTS_T = times(75.0, 0.5), times(75.0, 0.4)


def swept(tach_factor: float = 1.0, share: float = 0.0, volts_factor: float = 1.0) -> Result:
    rng = np.random.default_rng(4)
    speed = engine(SPEED_T) * np.where(rng.random(len(SPEED_T)) < share, tach_factor, 1.0)
    falls = np.where(VOLTS_T % 6.0 < 0.8, volts_factor, 1.0)
    volts = K * engine(VOLTS_T) * falls + rng.normal(0.0, 0.01, len(VOLTS_T))
    return analyse(
        run_of((VOLTS_T, np.round(volts, 2)), (SPEED_T, np.round(speed)), machine=machine_of(3600.0, 20.0))
    ).result


def test_a_tach_that_reads_high_at_times_is_not_laid_on_the_joints_alone() -> None:
    said = [r for r in swept(tach_factor=1.08, share=0.1).reasons if "joint" in r]
    assert said
    assert all("tach" in r for r in said)


def test_volts_that_halve_are_no_second_spot_beside_the_tach() -> None:
    said = " ".join(swept(volts_factor=0.5).reasons)
    assert "second spot" not in said
    assert "joint" in said
