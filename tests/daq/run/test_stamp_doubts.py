"""Logs with whole-second stamps: a sound result where they can be placed, a plain word where not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.run.analysis import analyse
from daq.run.channels import RunData
from tests.daq.run.builders import K, engine
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]


def in_whole_seconds(volts_step_s: float, speed_step_s: float, seed: int, lost: float = 0.0) -> RunData:
    rng = np.random.default_rng(seed)
    at, speed_t = (np.arange(rng.uniform(0.0, step), 75.0, step) for step in (volts_step_s, speed_step_s))
    at, speed_t = (t[rng.random(len(t)) >= lost] for t in (at, speed_t))
    volts = np.round(K * engine(at - 0.2) + rng.normal(0.0, 0.01, len(at)), 2)
    late = [np.abs(rng.normal(0.0, 0.02, len(t))) for t in (at, speed_t)]
    data = run_of(
        (np.floor(at + late[0]), volts),
        (np.floor(speed_t + late[1]), np.round(engine(speed_t))),
        machine=machine_of(3600.0, 20.0),
    )
    return replace(data, imported=True)


@pytest.mark.parametrize(("volts_step_s", "speed_step_s"), [(0.4, 0.5), (0.5, 0.5), (1.0, 0.5)])
def test_the_truth_is_within_what_is_stated(volts_step_s: float, speed_step_s: float) -> None:
    for seed in range(3):
        result = analyse(in_whole_seconds(volts_step_s, speed_step_s, seed)).result
        assert result.rated_voltage_V is not None
        assert result.expanded_uncertainty_V is not None
        assert abs(result.rated_voltage_V - 3600.0 * K) <= result.expanded_uncertainty_V
        assert result.expanded_uncertainty_V < 0.2
        assert any("spread evenly, 0.5 s apart" in r for r in result.reasons)
        assert not any("too long to bridge" in r for r in result.reasons)


def test_stamps_that_can_not_be_placed_decide_nothing_and_say_what_to_do() -> None:
    result = analyse(in_whole_seconds(0.4, 0.5, 1, lost=0.3)).result
    assert result.rated_voltage_V is None
    assert "come in steps of 1 s" in result.reasons[0]
    assert "tenth of a second" in result.reasons[0]
