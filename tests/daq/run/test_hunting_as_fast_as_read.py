"""A sound tach beside an engine that hunts about as fast as is read: it is not said to scatter."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.typing import NDArray

from daq.cards.instrument import Response
from daq.run.analysis import analyse
from daq.run.channels import RunData
from tests.daq.run.missing_tach import METER, TACH, fine, windows
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]


def hunting(seed: int, volts_step_s: float, *, even: float = 0.0, slack: float = 0.0) -> RunData:
    """One revolution read once a second; the governor hunts once in some seconds, or in one."""
    rng = np.random.default_rng(seed)
    t = fine(60.0)
    pace = rng.uniform(0.25, 0.95)
    n = 3600.0 * (1.0 + rng.uniform(0.01, 0.03) * np.sin(2.0 * np.pi * pace * t + np.sin(0.3 * t)))
    speed_end, volts_end = np.arange(0.3, 60.0, 1.0), np.arange(0.1, 60.0, volts_step_s)
    own = rng.normal(0.0, even, len(speed_end)) - slack * rng.exponential(1.0, len(speed_end))
    speed = windows(t, n, speed_end, 1.0 / 60.0) * (1.0 + own)
    volts = windows(t, 20.6 / 3600.0 * n, volts_end, 0.4) + rng.normal(0.0, 0.01, len(volts_end))
    return run_of(
        (volts_end + 0.3, np.round(volts, 2)),
        (speed_end + 0.1, np.round(speed)),
        machine=machine_of(3600.0, 20.0),
        meter=replace(METER, response=Response(window_s=0.4, interval_s=volts_step_s)),
        tach=replace(TACH, response=Response(interval_s=1.0, averaging="sampled")),
    )


def blamed(data: RunData) -> bool:
    return any("tach" in r and "scatter" in r for r in analyse(data).result.reasons)


@pytest.mark.parametrize(("volts_step_s", "most"), [(0.4, 0), (0.5, 0), (1.0, 2)])
def test_a_sound_tach_is_not_blamed(volts_step_s: float, most: int) -> None:
    """Read once a second both, some hunting shows in the one and hardly in the other."""
    told = [blamed(hunting(seed, volts_step_s)) for seed in range(12)]
    assert sum(told) <= most


def test_where_the_lag_is_not_known_either_may_be_to_blame() -> None:
    reasons = analyse(hunting(4, 0.4)).result.reasons
    said = [
        r
        for r in reasons
        if "the engine hunts faster than the instruments read, or the tach misses marks" in r
    ]
    assert len(said) == 1
    assert "the lag between them is not known" in said[0]
    assert "is in the uncertainty" in said[0]


@pytest.mark.parametrize("volts_step_s", [0.4, 0.5])
@pytest.mark.parametrize(("even", "slack"), [(0.015, 0.0), (0.0, 0.015)])
def test_one_that_scatters_by_itself_still_widens_the_result(
    volts_step_s: float, even: float, slack: float
) -> None:
    for seed in range(8):
        done = analyse(hunting(seed, volts_step_s, even=even, slack=slack))
        refused = done.result.rated_voltage_V is None
        lines = {} if done.output is None else {c.name for c in done.output.budget.contributions}
        assert refused or "marks that the tach may have missed" in lines
